package boiler

import "math"

// Span is a quantity with its bounds.
type Span struct{ Lo, Best, Hi float64 }

// Rate is what is known of the boil-off, in litres as poured cold per second of
// boiling: a log-normal distribution cut off at what the power could do.
//
// It is the loss of water from the boiler, whatever the steam does then: walls and
// ribs that condense it change nothing, unless the condensate runs back into the
// boiler, and then a slower loss is just what the account must follow.
type Rate struct {
	LogMean, LogSd float64 // of the distribution before it is cut off
	MaxLPerS       float64 // what all the power could boil off; 0: the power isn't known
}

// Shares of what may be that lie below the bounds of a Span: one in five thousand is
// on the wrong side of each. A run throws the dice anew with every fill, trip and
// reading, and fewer than one run in two hundred may see a bound broken.
const (
	loShare = 0.0002
	hiShare = 1 - loShare
)

// sigmas is how many standard deviations of a normal distribution leave loShare
// beyond.
const sigmas = 3.54

// Span returns the rate in L/s: the median and bounds, of which one in five thousand
// is beyond each.
func (r Rate) Span() Span {
	return Span{Lo: r.Quantile(loShare), Best: r.Quantile(0.5), Hi: r.Quantile(hiShare)}
}

// Quantile returns the rate in L/s that the true one is below with the chance p,
// between 0 and 1, neither of them included.
func (r Rate) Quantile(p float64) float64 {
	return math.Exp(r.LogMean + r.LogSd*probit(p*r.possible()))
}

// possible is how much of the distribution lies below what the power could do.
func (r Rate) possible() float64 {
	if r.MaxLPerS <= 0 {
		return 1
	}
	return below((math.Log(r.MaxLPerS) - r.LogMean) / r.LogSd)
}

// steadySd is how well a rate can be known at best: mains and flame wander by a few
// hundredths (common practice, no source).
const steadySd = 0.02

// believable is the least share of the distribution that must be possible by the
// power told; below it the power told was too low.
const believable = 0.05

// Learn returns the rate after it was measured as lPerS with a standard deviation
// of sdLPerS. The measured rate may be anything, also nought or less, where little
// water went between two readings.
//
// It puts a log-normal distribution with the same mean and spread of the logarithm
// in place of the exact product. A rate that the power told can hardly reach is a
// sign that the power was told too low; the limit is then dropped.
func (r Rate) Learn(lPerS, sdLPerS float64) Rate {
	const steps, reach = 400, 6.0
	var sum, mean, square float64
	for i := range steps + 1 {
		z := reach * (2*float64(i)/steps - 1)
		off := (math.Exp(r.LogMean+z*r.LogSd) - lPerS) / sdLPerS
		weight := math.Exp(-(z*z + off*off) / 2)
		sum += weight
		mean += weight * z
		square += weight * z * z
	}
	if !(sum > 0) {
		return r // so far off that it can't be this boiler
	}
	mean /= sum
	r.LogMean += r.LogSd * mean
	r.LogSd = max(steadySd, r.LogSd*math.Sqrt(max(0, square/sum-mean*mean)))
	if r.possible() < believable {
		r.MaxLPerS = 0
	}
	return r
}

// earliest returns the seconds in which litres, known to a standard deviation of sdL,
// are boiled off with a chance of loShare, to a four thousandth on the early side.
//
// Bounds of the rate and of the litres must not simply be put together: where the
// power sets the limit, a rate close to it is no rare thing.
func (r Rate) earliest(litres, sdL float64) float64 {
	const steps, slowest, fastest, halvings = 20, -1.0, 4.5, 12
	if litres <= 0 {
		return 0
	}
	top := fastest
	if r.MaxLPerS > 0 {
		top = min(top, (math.Log(r.MaxLPerS)-r.LogMean)/r.LogSd)
	}
	var rate, weight [steps]float64
	width := (top - slowest) / steps
	scale := width / (math.Sqrt(2*math.Pi) * r.possible())
	for i := range steps {
		z := slowest + (float64(i)+0.5)*width
		rate[i] = math.Exp(r.LogMean + z*r.LogSd)
		weight[i] = math.Exp(-z*z/2) * scale
	}
	sdL = max(sdL, 1e-6)
	early, late := 0.0, litres/r.Quantile(0.5)
	for range halvings {
		t, dry := (early+late)/2, 0.0
		for i := range steps {
			dry += weight[i] * below((rate[i]*t-litres)/sdL)
		}
		if dry > loShare {
			late = t
		} else {
			early = t
		}
	}
	return early
}

// sd is the standard deviation in L/s, to first order.
func (r Rate) sd() float64 { return r.Quantile(0.5) * r.LogSd }

// below is the share of a standard normal distribution below z.
func below(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

// probit undoes below.
func probit(p float64) float64 { return -math.Sqrt2 * math.Erfcinv(2*p) }
