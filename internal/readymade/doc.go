// Package readymade answers whether building pays: what so many panels of one build cost
// against ready-made ones, at the same number and at the same absorption area, how long
// building takes, and below which value of an hour it is worth it.
//
// For is a pure function of a prepared snapshot of the catalog and a Question. What is not known gives
// no number: the savings that rest on it are left out and a Gap names it.
//
// Source of all definitions: costing_problem.md section 8; of the time that handling
// takes: handling.md section 3. Nothing published was seen on the time of the other steps, so
// it is the asker's own figure or it is not known.
//
// Simplifications: the panels compared need not be alike in size, depth or fire class; equal
// absorption is of the area weighted by the purpose and may differ in single octaves; tools
// last for ever and cost nothing to keep; what ready-made panels leave over are whole panels.
package readymade
