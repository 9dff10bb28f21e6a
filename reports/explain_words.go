package reports

// Verdicts, statuses and patterns.

var explainVerdicts = []explanation{
	{"enriched", "verdict", "the ground round the crater holds more than its background",
		"The mean excess over 1.1 to 2.5 crater radii is larger than the correlated noise of this map explains, after correction for the number of craters that were screened. It says that the map is higher there, not why: read the alarms next, because heat, lighting, a seam or a neighbour can raise a map too."},
	{"candidate", "verdict", "worth a second look, but not beyond doubt",
		"The excess or the direction is significant on its own but not after correction for the whole catalogue, or it is significant and an alarm that could explain it was raised. A candidate is a reason to observe again, ideally at another time of day, not a result to quote."},
	{"upper_limit", "verdict", "nothing was seen, and the data would have shown more than this",
		"The crater was covered well enough for a statement, and no excess was found. The number to quote is upper_limit_95: a blanket with a rim excess above it would be at odds with the map 95 times in 100. Compare it with detectable_50 and detectable_95 to see what would have been found."},
	{"not_measurable", "verdict", "the data allow no statement about this crater",
		"Coverage, size or noise forbid both a detection and a limit. This is not a non-detection: the crater may be as rich as any other. The status column gives the reason and often the cure."},
	{"poorer", "verdict", "the ground near the crater holds less than its surroundings",
		"The rim lies below the background by more than four standard errors. The tests look for an excess and do not claim a deficit, so the verdict word stays what it was, with its upper limit; but nothing is the wrong word for a dark halo. Ejecta may have buried richer ground, or the crater dug through it; a mask, a shadow or other ground can do the same."},
	{"nothing", "verdict", "no excess that the noise does not explain",
		"Nothing stands out above the correlated noise of the map. Whether that means anything depends on what would have been seen: read the detectable numbers and the upper limit before calling the crater dry."},
}

var explainStatuses = []explanation{
	{"ok", "status", "measured, in all directions",
		"The crater is large enough on the map, covered well enough on all sides, and has enough far field for a background. Every number in the row was measured."},
	{"radial_only", "status", "measured, but too small for a direction",
		"The rim is only a few pixels across. Ring means still hold, since averaging over all directions does not need the sides to be told apart, but sectors would rest on a handful of pixels. The excess, the decay and the extent are given; the pattern and the axis are not. A sharper map would lift this."},
	{"not_testable", "status", "measured, but holes forbid a direction",
		"Part of the ejecta range has no valid pixels, or neighbours mask it, so that a symmetric blanket could look directional. Ring numbers are given with their larger errors; a direction is withheld rather than guessed. See the coverage column and the alarm coverage_can_fake."},
	{"too_small", "status", "the rim is smaller than the pixels allow",
		"The crater is so small on this map that a ring holds hardly any pixel centre and rim, wall and blanket fall into the same pixel. Nothing is measured. Use a sharper map, or drop craters of this size from the catalogue before the false-discovery rate is computed."},
	{"too_large", "status", "the rings reach round the body",
		"The outermost ring would pass the far side of the body or swallow most of it, so there is no ground left that could serve as background. Reduce the outer range in the sampling settings if the crater matters."},
	{"distorted", "status", "the map's pixels are stretched too far here",
		"Near the edge of its projection a map shows the ground in pixels many times longer than wide, as an equirectangular map does near the poles. Pixels there repeat one another and the noise has no one shape, so neither errors nor directions could be trusted. Give a map in a polar or local projection for these craters."},
	{"not_covered", "status", "no valid pixel within reach",
		"The map has no data round this crater: it lies outside the map, in a gap between strips, or in ground that was masked. It says nothing about the crater. A frequent cause is a longitude or latitude convention; check another crater whose place you know."},
	{"low_coverage", "status", "too few valid pixels near the rim",
		"Some pixels are valid, but less of the ejecta range than the setting min_coverage asks for. Numbers from so little ground would mostly describe where the holes are, so they are withheld. Lower the setting only if you can argue that the holes have nothing to do with the species."},
	{"no_background", "status", "no far field is left",
		"The far rings, which give the level without the crater, are empty or masked by neighbours, so excess has no zero point. A larger outer range or a smaller mask round neighbours may bring far field back."},
	{"no_variance", "status", "the map is constant here",
		"All valid pixels round the crater have the same value: a filled gap, a clipped range or a synthetic patch. Without variation there is no noise to compare with, so no p-value exists."},
	{"unreadable", "status", "a damaged part of a raster",
		"The part of the file that holds this crater could not be decoded. Other craters are not affected. The message of the run names the file; copy it again and compare its checksum with the producer's."},
	{"sieved", "status", "left out by the sieve",
		"The survey asked to measure only the most promising share of its craters (tests.sieve), and a quick look at all of them put this one behind that share. It is not measured: nothing is known of it but the p of its quick look, and those count among the tests of the false discovery rates. Measure it with a larger share, or with rimcast profile."},
	{"refused", "status", "the catalogue entry cannot be used",
		"The entry has no place, an impossible latitude, a radius that is missing, zero or negative, or another fault. refused.csv lists each entry with its position in the file and the reason."},
}

var explainPatterns = []explanation{
	{"none", "pattern", "no excess to give a shape to",
		"No excess was found that noise does not explain, so there is no pattern. It is the answer of the test, not a proof of absence; the limits tell what could hide."},
	{"symmetric", "pattern", "the same in all directions",
		"An excess falls off with range and shows no change with azimuth beyond the noise. A weak direction may still be there: the axis test has its own limits. Most blankets are expected to be close to symmetric."},
	{"one-sided", "pattern", "richer towards one side",
		"The excess is stronger on one side; axis_deg points to the middle of that side. Oblique impact, a slope, a contact between two kinds of ground, lighting and a strip seam all do this, as does a wrong crater centre: see the alarms."},
	{"bilateral", "pattern", "along one axis, to both sides",
		"Two lobes lie opposite each other; axis_deg is the axis, from 0 to 180. Oblique impacts can throw material to both sides of their track. So can a stripe of the instrument that runs through the crater: compare the axis with the track and with the sun."},
	{"rays", "pattern", "three or more narrow directions",
		"The excess leaves the crater in three or more lobes that two opposite ones do not explain. axis_deg is the strongest. Rays of neighbouring craters that cross the rings look the same; check the cut-out."},
	{"gap", "pattern", "a blanket with a sector missing",
		"The excess is present all round except in one sector, whose middle is axis_deg and whose width is gap_width_deg. A forbidden zone of an oblique impact looks like this, and so does a younger neighbour or a shadow that erases one side."},
}
