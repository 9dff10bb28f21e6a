// Package testblanket makes problems with known answers: noise like that of
// calibrated maps, ejecta blankets of every pattern painted into it, and whole
// invented surveys with the truth beside them.
//
// [Noise] is the recipe of a field and its true covariance; a [Generator]
// draws fields from it. [Blanket] is the excess round one crater. [Scenario]
// is the recipe of a survey of an invented body; [Scenario.Build] makes its
// maps, catalogue and truth, the same for the same seed on any machine.
//
// Nothing here knows how the excess is measured: the package serves the tests
// of those that do.
package testblanket
