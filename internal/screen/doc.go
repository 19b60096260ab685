// Package screen looks through the records of a yard's month for what they themselves show wrong: numbers that
// are missing, trucks that crossed the deck scale and stand in no loader's records, piles below zero, tests that
// are too old. What it finds goes into the register of exceptions, which a clerk works down and an auditor reads.
//
// # Adding a rule
//
// A rule is one file in one of the packages below this one, by what it looks at: tickets (numbers, voids, tares,
// hours), weights (loaders against deck scales, digits), piles (plant, piles, laboratory, surveys). It is a type
// without fields that implements [Rule]: Info says in words what the rule means, which harmless reasons to look at
// first, what settles a finding, how often it is wrong, and which settings a yard may change; Look walks over
// [Data] and hands in what it found. A line in the package's Rules puts it to work. The doc comment of the type
// gives the method, its source and its false-alarm rate; a test seeds the fault and counts.
//
// A rule keeps to three things. It names records, piles and instruments, never people. The [Finding.Subject] is
// made of natural keys alone, so that the same finding has the same ID in every run, whatever the settings and
// whatever came in since. And it reports only what lies in its month: [Run] drops the rest, since records from
// the month before are there to be looked back at.
//
// # Sign
//
// A [Finding] carries a mass as weighed, never negative, and the effects that it would have on piles if it is what
// it seems: by how much it would make the book of a pile exceed its survey. Positive explains stone that is
// missing.
package screen
