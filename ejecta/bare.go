package ejecta

import "math"

// Bare are the craters of a catalogue that were measured on no species, of which
// nothing is known but why, and the p of a quick look. Each takes tens of bytes,
// where a [Finding] takes a thousand for each species. Nil is none of them.
type Bare struct {
	labels  []Finding // by species: what its findings have in common, without numbers
	reasons []bareReason
	number  map[statusNote]int32 // of reasons
	list    []bareCrater         // rising crater
	quick   []QuickP             // by crater of the catalogue, then by species; nil without a sieve
}

// bareCrater is a crater of the catalogue and the number of its reason.
type bareCrater struct{ crater, reason int32 }

type statusNote struct {
	status Status
	note   string
}

// bareReason is why craters were not measured, and its sentence by species.
type bareReason struct {
	statusNote
	verdicts []string
}

// NewBare makes an empty list for species, of whose findings each has the names and
// the unit of one label; quick are the looks of a sieve, by crater, then by
// species, and are kept, not copied; nil without a sieve.
func NewBare(labels []Finding, quick []QuickP) *Bare {
	b := &Bare{number: map[statusNote]int32{}, quick: quick}
	for i := range labels {
		l := &labels[i]
		f := Finding{Species: l.Species, Quantity: l.Quantity, Epoch: l.Epoch, Unit: l.Unit}
		BlankNumbers(&f)
		b.labels = append(b.labels, f)
	}
	return b
}

// Add adds a crater; craters come in the order of the catalogue.
func (b *Bare) Add(crater int, status Status, note string) {
	if n := len(b.list); n > 0 && int(b.list[n-1].crater) >= crater {
		panic("ejecta: bare craters out of order")
	}
	b.list = append(b.list, bareCrater{int32(crater), b.reason(statusNote{status, note})})
}

// reason is the number of a reason.
func (b *Bare) reason(why statusNote) int32 {
	if k, ok := b.number[why]; ok {
		return k
	}
	r := bareReason{statusNote: why}
	for i := range b.labels {
		f := Finding{Species: b.labels[i].Species, Status: why.status, Note: why.note}
		r.verdicts = append(r.verdicts, f.sentence())
	}
	b.number[why] = int32(len(b.reasons))
	b.reasons = append(b.reasons, r)
	return b.number[why]
}

// Len is the number of craters.
func (b *Bare) Len() int {
	if b == nil {
		return 0
	}
	return len(b.list)
}

// Crater is the catalogue index of crater k of the list.
func (b *Bare) Crater(k int) int { return int(b.list[k].crater) }

// Status is why crater k was not measured.
func (b *Bare) Status(k int) Status { return b.reasons[b.list[k].reason].status }

// Reason numbers the reasons: craters with one number have one status and note.
func (b *Bare) Reason(k int) int { return int(b.list[k].reason) }

// Label are the names that the findings of a species share.
func (b *Bare) Label(species int) (quantity, epoch string) {
	return b.labels[species].Quantity, b.labels[species].Epoch
}

// Quick is the quick look at crater k on a species; nil without one.
func (b *Bare) Quick(k, species int) *QuickP {
	at := int(b.list[k].crater)*len(b.labels) + species
	if at >= len(b.quick) || math.IsNaN(b.quick[at].Excess) {
		return nil
	}
	return &b.quick[at]
}

// Fill makes f the finding of crater k on a species.
func (b *Bare) Fill(f *Finding, k, species int) {
	c := b.list[k]
	r := &b.reasons[c.reason]
	*f = b.labels[species]
	f.CraterIndex, f.Status, f.Note, f.Verdict = int(c.crater), r.status, r.note, r.verdicts[species]
	f.Quick = b.Quick(k, species)
}

// Find is the place of a crater in the list; false where it is not.
func (b *Bare) Find(crater int) (k int, ok bool) {
	lo, hi := 0, b.Len()
	for lo < hi {
		if mid := (lo + hi) / 2; int(b.list[mid].crater) < crater {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	return lo, lo < b.Len() && int(b.list[lo].crater) == crater
}

// IsBare reports whether a finding says no more than why it was not measured, and
// what a quick look told: it may be one of [Bare].
func (f *Finding) IsBare() bool {
	switch f.Status {
	case StatusTooSmall, StatusTooLarge, StatusDistorted, StatusSieved, StatusNotCovered:
	default:
		return false
	}
	for _, p := range f.numbers() {
		if !math.IsNaN(*p) {
			return false
		}
	}
	lists := len(f.Radial) + len(f.Azimuthal) + len(f.Alarms) + len(f.Families) + len(f.Lobes) + len(f.Levels) + len(f.Conditions) + f.Pixels + f.Spikes
	return lists == 0 && f.PixelsPer == 0 && f.Coverage == 0 && f.MaskShare == 0 && f.Pattern == "" && f.Layers == nil && f.Sums == nil
}

// tests are the two p that a crater counts with in the catalogue.
func (b *Bare) tests(k, species int) (excess, direction float64) {
	if b.Status(k) != StatusSieved {
		return math.NaN(), math.NaN()
	}
	return quickTests(b.Quick(k, species))
}

// plainTests are those by the noise model alone.
func (b *Bare) plainTests(k, species int) (excess, direction float64) {
	if b.Status(k) != StatusSieved {
		return math.NaN(), math.NaN()
	}
	return plainQuick(b.Quick(k, species))
}

// SieveTests calls fn with the p of every crater on a species that a sieve looked
// at and left out: as the catalogue counts them, and by the noise model alone.
func (b *Bare) SieveTests(species int, fn func(tests, plain [2]float64)) {
	for k := range b.Len() {
		if q := b.Quick(k, species); q != nil && b.Status(k) == StatusSieved {
			fn([2]float64{q.Excess, q.Direction}, q.Plain)
		}
	}
}

// Counts are the numbers of findings by status, all species together.
func (b *Bare) Counts() map[Status]int {
	n := map[Status]int{}
	for k := range b.Len() {
		n[b.Status(k)] += len(b.labels)
	}
	return n
}

// speciesNumber is the number of a species; -1 for one that is not there.
func (b *Bare) speciesNumber(name string) int {
	if b != nil {
		for s := range b.labels {
			if b.labels[s].Species == name {
				return s
			}
		}
	}
	return -1
}

// directionTests is the number of tests of a direction on a species.
func (b *Bare) directionTests(species int) (n int) {
	for k := range b.Len() {
		_, p := b.tests(k, species)
		n += counted(p == p)
	}
	return n
}
