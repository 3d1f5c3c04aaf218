// Package repotest holds the tests on the repository itself: which package may
// import which, where each foreign library lives, what stands at the top, that
// every package explains itself, that migrations come in pairs, and that the
// pages for readers say what they must.
//
// It has no code of its own. A rule that a test here states is loosened only
// together with its reason, which stands beside the rule.
package repotest
