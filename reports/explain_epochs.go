package reports

// Words of the times of day.
var explainEpochs = []explanation{
	{"persistent", "verdict", "the blanket is the same at all times of day",
		"A blanket is seen, the test of one amplitude at all times of day is not rejected, and a change by half of it is excluded. That is what ground that was dug up does; water or hydroxyl that moves with the sun does not stay. It holds for the times of day that were mapped and for the ground that all of them show (coverage). The numbers are persist_p, change with its interval, and persistent_excess in persistence.csv."},
	{"changing", "verdict", "the blanket is there at all times of day, but not always as much",
		"The test of one amplitude at all times of day is rejected, with the noise that the maps share taken from places without a crater. Part of what is seen comes and goes with the sun, or heat was left in some of the maps. persistent_share is the smallest amplitude over the largest: at most that part can be said to stay. Compare the background of epochs.csv, which shows whether the whole ground changes as well, and look at the coldest time of day."},
	{"comes and goes", "verdict", "the blanket is not there at some times of day",
		"At one time of day at least a blanket is seen, at another it is not and less than half of it could be there. Surface exchange with the sun does this, and so does heat that the map kept. It is no sign of ground that was dug up. A map of the night side or of a colder season would settle it."},
	{"not known", "verdict", "the times of day do not tell whether the blanket stays",
		"No blanket is seen, or it is so faint that a change by half of it is not excluded, or fewer than two times of day show the crater. The interval of change says how much could have happened unseen. More ground common to all times of day, or less noise, would help."},
	{"changes_with_time", "alarm", "the blanket changes with the time of day",
		"The same species, mapped at several times of day, shows a blanket whose amplitude is not one. The value is the p of one amplitude, the limit the level of the survey; persistence.csv has the change with its interval. What changes within a day was not dug up: it moves with the sun, or it is heat that the map kept. It needs the species at two times of day: [[species]] sections with one name and different epochs."},
	{"follows_sun", "alarm", "the direction turns with the sun",
		"One direction at all times of day is excluded, and one that turns by as much as the sun does fits. Slopes that face the sun, shadow and heat make such a direction; ejecta do not move. The value is the p of one direction. It needs the species at two times of day with a direction at both, and where the sun stood: local_time_h, a layer of local time, or a layer of the sun's azimuth, with the epoch of the species."},
}
