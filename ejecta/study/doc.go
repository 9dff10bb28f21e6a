// Package study measures how well the tests of package ejecta work, on noise
// and blankets whose truth is known: whether a p-value means what it says,
// how much is found compared with an oracle that knows the covariance and the
// shape, whether intervals cover, whether patterns are told apart.
//
// Every number follows from a seed. The whole study is
//
//	go test ./ejecta/study -run Study -study -v -timeout 2h
//
// and prints the tables as Markdown, that of the targets first; -study.seed,
// -study.part, -study.noise and -study.out choose seed, share of the draws,
// noise types and a file to write. Without -study a small version
// runs whose bounds catch a break.
package study
