// Package beside measures Withy beside what one would otherwise put together from general
// parts, and beside the least that could be written for the same box (bare): see run.
// There is nothing in it to import.
package beside
