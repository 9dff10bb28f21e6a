// Package ejecta measures the ejecta blankets of craters on abundance maps: how
// much richer the ground near a crater is, how far out, and whether the excess
// leaves in all directions alike. It works on plain numbers; it knows neither
// files nor map projections.
//
// # The way through the package
//
// The pixels round a crater come as [Samples]: range in crater radii, azimuth,
// ground area. [Collect] gathers the valid ones into cells (polar cells, or
// single pixels and blocks for small craters), paints the templates on the
// pixels and averages them exactly as the values, whitens all columns by the
// noise of the map and keeps their products: the [Gram] matrix. Every later
// question is a sweep of that small matrix, so the map is not needed again:
//
//   - background and radial profile: free means of all rings and a plane, by
//     generalised least squares; the background is the mean of the far rings;
//   - blanket: A rho^-b by profile likelihood over b;
//   - direction: the azimuthal harmonics of rho^-3, after every symmetric
//     profile has been projected out by free ring means ([Directional]); a bank
//     of templates is scored in the space of those harmonics;
//   - pattern: the class with the largest chi-square less a penalty;
//   - contrast of two species: do they share one azimuthal shape ([Compare]);
//   - alarms: the same sweeps with a column more or less ([Evidence.Alarms]).
//
// # Noise
//
// Pixels are correlated, often along the orbit track. [NoiseSurvey] measures
// the two-dimensional autocovariance of the map on crater-free windows and
// [Noise] tabulates it between squares of pixels. Whatever the model misses is
// caught by null positions: places without craters, measured the same way,
// whose statistics give a scale for the p-values of each size class.
//
// # Units
//
// Ranges are in crater radii, azimuths clockwise from north in radians inside
// and degrees in a [Finding], amounts in the unit of the species.
package ejecta
