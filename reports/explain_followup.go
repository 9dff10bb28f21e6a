package reports

// Words of the follow-up sheets.

var explainFollowUp = []explanation{
	{"noise_factor", "number", "how quiet a new observation has to be",
		"The noise of a new observation over that of the present map, on the same ground with the same pixels, at which the assumed rim excess comes out at the wanted number of standard errors. Above 1 a noisier observation will do. Where an excess is claimed it is the one that is assumed; elsewhere the upper limit. noise_factor_joined is for both maps together, noise_factor_direction for the direction. It takes the correlation of the noise as it is now."},
	{"wedges", "number", "azimuths that a new observation has to cover",
		"From and to in degrees clockwise from north: each lobe as wide as it is, widened by the 95 per cent interval of its azimuth; a gap with thirty degrees of both flanks; everything where no direction is claimed. Ground of the far field belongs to it, or there is no background."},
	{"pixel_wanted", "number", "largest pixel that answers the question",
		"With eight pixels to a rim radius the tests have all their rings and sectors. In a narrow wedge the pixel is smaller, so that the part of the innermost ring that lies in the wedge still holds thirty pixels."},
	{"settle", "number", "what would change the verdict",
		"The rim excess of a new observation at which the verdict turns when both are joined by inverse variance. Where even no excess would not turn it, the value below which the two maps contradict each other. The standard errors wanted are those of --settle-sigma."},
	{"p_real", "number", "probability that this excess is real",
		"One less the local false discovery rate of the strongest excess at the crater; its odds are multiplied by the number of species, since the strongest was picked. It knows the noise and the catalogue, not heat, light or strips: an alarm is to be weighed beside it."},
	{"expected_false", "number", "how many of the list are expected to be no real excess",
		"The sum of one less p_real down to this rank. With 0.6 at the tenth rank, about one in sixteen of the ten is noise."},
	{"excess_shrunk", "number", "the excess without the winner's curse",
		"Picked for its size, the largest of many excesses is large by its noise too. The observed score is drawn back to the one expected given all scores of the species in the catalogue (Tweedie's formula; Efron 2011), and the excess in the same proportion. Use it to plan; the plain one is for the record. It needs twenty craters, and is firm with hundreds."},
	{"rich_share", "number", "share of craters with a real excess",
		"The sum of one less local_fdr over a group of craters, over their number: craters are not called rich or poor one by one. Groups differ in more than the property that made them, such as size in what can be seen; compare young and old in pairs for that. Alarms are not taken out: alarmed_share says how many have one."},
	{"excavation_depth", "number", "from how deep the ejecta come at most",
		"A tenth of the diameter of the transient crater, taken as 0.84 of the rim diameter as for simple craters (Melosh 1989). For complex craters it is too large. The ground that a blanket shows was mixed on its way; this is the deepest of it, not its mean."},
}
