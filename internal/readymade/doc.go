// Package readymade answers whether building pays: what so many panels of one build cost
// against ready-made ones, at the same number and at the same absorption area, how long
// building takes, and below which value of an hour it is worth it.
//
// Source of all definitions: costing_problem.md section 8; of the time that handling
// takes: handling.md section 3.
package readymade
