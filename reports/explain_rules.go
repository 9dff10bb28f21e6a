package reports

// Words of rules, flags and the states of alarms, and of a direction through the
// day.
var explainRules = []explanation{
	{"bh", "rule", "q by Benjamini and Hochberg",
		"q is the smallest false discovery rate at which the step-up rule of Benjamini and Hochberg (1995) would keep this finding among all craters and species of the list. It rests on p values that hold what they say, which null positions check: see null_scale. What would settle a finding near the line is more data on that crater, not another rule."},
	{"empirical_null", "rule", "q raised to what the craters' own null allows",
		"Too many tests of this species had a null scale in doubt: few null positions, or a scale far from 1. A null is then fitted to the craters' own scores, most of which hold nothing, and q is no smaller than that null allows. It needs some hundred craters, most of them bare; more crater-free ground on the map would bring the plain rule back."},
	{"raised", "state", "the alarm speaks against the finding",
		"The number behind the alarm passed its limit, or what the alarm asks for became of the direction; value, limit and detail say how. A raised alarm is no disproof: it names another cause that the data do not exclude. An excess with one is a candidate at most, and a direction that the ground explains does not count in the ranking. The follow-up sheet says what would settle each alarm."},
	{"clear", "state", "the alarm was run and did not speak",
		"The alarm had what it needs and its number stayed within the limit. A value near the limit is worth a look all the same. It clears the one cause that it names, on this map; see not_run for those that nobody looked for."},
	{"not_run", "state", "the alarm could not be run",
		"What the alarm needs is missing: a layer, an error in the catalogue, a direction to speak about. The column not_run says what. It clears nothing: the cause that it names is as likely as before. Give the layer (rimcast inspect --keys lists them) and run again."},
	{"ambiguous", "flag", "two patterns fit almost alike",
		"The pattern leads the one that came second (runner_up) by so little that which of them it is stays open; pattern_lead is the lead, in chi-square less the price of the parameters. That there is a direction is as sure as asymmetry_p says. Finer pixels, or a map with less noise, would tell them apart."},
	{"stays", "axis through the day", "the direction is the same at all times of day",
		"A direction is seen at two times of day at least, one azimuth fits all of them, and one that turns with the sun does not. Ejecta do so. The interval of the drift is in persistence.csv."},
	{"follows the sun", "axis through the day", "the direction turns as the sun does",
		"One direction at all times of day is excluded, and one that turns by as much as the sun does fits. Slopes that face the sun, shadow and heat left in the maps make such a direction; ejecta do not move. It raises the alarm follows_sun."},
	{"turns", "axis through the day", "the direction changes through the day, not as the sun does",
		"One direction at all times of day is excluded, and so is one that turns with the sun, or the sun is not known. Two causes may be mixed, or a seam or a hole may lie elsewhere on each map. A layer of the sun's azimuth, or local times, would tell more."},
	{"open", "axis through the day", "the data do not tell whether the direction turns",
		"Neither one direction at all times of day nor one that turns with the sun is excluded, or the sun did not move enough between the maps. More noise-free maps, or times of day farther apart, would settle it."},
}

// explainMore are numbers of the tables that say what was tried on a finding.
var explainMore = []explanation{
	{"overturned_by", "number", "the choices that change the verdict",
		"Rings left out, a centre moved within its error, other exponents, another estimator, layers left out: under those listed here excess or direction would not have been claimed, or another direction would. robust_share counts them. One choice among a dozen is what chance does near the line; all that leave out the first ring say that the finding rests on the rim."},
	{"taken_share", "number", "how much of the excess all covariates take together",
		"One less the rim excess with every covariate fitted beside it over that without. Near 0 the layers do not matter, near 1 they explain all of it; below 0 they had hidden some. Where blanket and layer look alike the share is not to be trusted: see not_separable. The columns with and without stand side by side in covariates.csv."},
}
