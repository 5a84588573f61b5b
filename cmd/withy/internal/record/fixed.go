package record

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// seconds is a time span that JSON shows as seconds, exact to the nanosecond.
type seconds time.Duration

// MarshalJSON writes as many decimals as are needed.
func (s seconds) MarshalJSON() ([]byte, error) { return appendFixed(nil, int64(s), 9), nil }

// UnmarshalJSON reads a plain decimal number; it refuses what it can't hold exactly.
func (s *seconds) UnmarshalJSON(b []byte) error {
	x, err := parseFixed(string(b), 9)
	*s = seconds(x)
	return err
}

// milli is a number of thousandths that JSON shows as a whole with decimals.
type milli int32

// MarshalJSON writes as many decimals as are needed.
func (m milli) MarshalJSON() ([]byte, error) { return appendFixed(nil, int64(m), 3), nil }

// UnmarshalJSON reads a plain decimal number; it refuses what it can't hold exactly.
func (m *milli) UnmarshalJSON(b []byte) error {
	x, err := parseFixed(string(b), 3)
	if err == nil && x != int64(int32(x)) {
		err = fmt.Errorf("%s is out of range", b)
	}
	*m = milli(x)
	return err
}

// appendFixed appends x / 10^digits as a decimal number.
func appendFixed(b []byte, x int64, digits int) []byte {
	u := uint64(x)
	if x < 0 {
		b, u = append(b, '-'), -u
	}
	s := fmt.Sprintf("%0*d", digits+1, u)
	whole, part := s[:len(s)-digits], strings.TrimRight(s[len(s)-digits:], "0")
	b = append(b, whole...)
	if part == "" {
		return b
	}
	return append(append(b, '.'), part...)
}

var errDecimal = errors.New("not a plain decimal number")

// parseFixed is the inverse of appendFixed. It refuses exponents and more than
// that many decimals.
func parseFixed(s string, digits int) (int64, error) {
	rest, negative := strings.CutPrefix(s, "-")
	whole, part, _ := strings.Cut(rest, ".")
	if whole == "" || strings.Trim(whole+part, "0123456789") != "" {
		return 0, fmt.Errorf("%w: %s", errDecimal, s)
	}
	if len(part) > digits {
		return 0, fmt.Errorf("%s has more than %d decimals", s, digits)
	}
	u, err := strconv.ParseUint(whole+part+strings.Repeat("0", digits-len(part)), 10, 64)
	switch {
	case err != nil:
		return 0, fmt.Errorf("%s is out of range", s)
	case negative && u <= -math.MinInt64:
		return int64(-u), nil
	case !negative && u <= math.MaxInt64:
		return int64(u), nil
	}
	return 0, fmt.Errorf("%s is out of range", s)
}
