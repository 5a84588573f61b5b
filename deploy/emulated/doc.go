// Package emulated holds the tests of the programs for boards, on an emulated board:
// see run. There is nothing in it to import.
package emulated
