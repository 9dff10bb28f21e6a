package testblanket

import "testing"

func BenchmarkDemo(b *testing.B) {
	for b.Loop() {
		if _, err := Demo().Build(1); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkField(b *testing.B) {
	n, _ := NoiseByName("exp5-stripe-gap")
	for b.Loop() {
		NewGenerator(n, 1024, 1024, false, false).Draw(stream(1, "bench"))
	}
}
