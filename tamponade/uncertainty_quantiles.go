package tamponade

import (
	"math"

	"limitans/estimate"
)

// quantiler takes weighted quantiles of columns of equal length.
type quantiler struct {
	weights   []float64
	sum       float64
	effective float64
}

func newQuantiler(n int, weights []float64) quantiler {
	q := quantiler{weights: weights, sum: float64(n), effective: float64(n)}
	if weights == nil {
		return q
	}
	squares := 0.0
	q.sum = 0
	for _, w := range weights {
		q.sum += w
		squares += w * w
	}
	q.effective = q.sum * q.sum / squares
	return q
}

// estimate returns median and 95 % interval of a column, which it may reorder.
func (q quantiler) estimate(column []float64, basis string) estimate.Estimate {
	n := len(column)
	if q.weights == nil {
		middle := orderStatistic(column, 0, n-1, 0.5)
		low := orderStatistic(column, 0, n/2, 0.025*float64(n-1)/float64(n/2))
		high := orderStatistic(column, n/2, n-1, (0.975*float64(n-1)-float64(n/2))/float64(n-1-n/2))
		return estimate.Estimate{Value: middle, Low: low, High: high, Basis: basis}
	}
	cloud := make([]weighed, n)
	for i, v := range column {
		cloud[i] = weighed{v, q.weights[i]}
	}
	middle, at, before := weighedQuantile(cloud, 0, 0.5*q.sum)
	low, high := middle, middle
	if least := 0.025 * q.sum; before >= least {
		low, _, _ = weighedQuantile(cloud[:at], 0, least)
	}
	high, _, _ = weighedQuantile(cloud[at:], before, 0.975*q.sum)
	return estimate.Estimate{Value: middle, Low: low, High: high, Basis: basis}
}

// weighed is a value with its weight.
type weighed struct{ value, weight float64 }

// weighedQuantile is the least value up to which the weights, with those before
// the cloud, come to a sum; the largest where rounding leaves them short of it. It
// reorders the cloud as Hoare's selection does: nothing before the place at is
// larger, nothing behind it smaller, and the weights before it come to beforeAt.
func weighedQuantile(cloud []weighed, before, sum float64) (value float64, at int, beforeAt float64) {
	low, high := 0, len(cloud)-1
	for low < high {
		pivot := cloud[low+(high-low)/2].value
		i, j := low, high
		for i <= j {
			for cloud[i].value < pivot {
				i++
			}
			for cloud[j].value > pivot {
				j--
			}
			if i <= j {
				cloud[i], cloud[j] = cloud[j], cloud[i]
				i++
				j--
			}
		}
		left := before // the weights of what is not above the pivot's place
		for _, w := range cloud[low : j+1] {
			left += w.weight
		}
		if left >= sum {
			high = j
			continue
		}
		between := left
		for _, w := range cloud[j+1 : i] { // equal to the pivot
			between += w.weight
		}
		if between >= sum {
			return cloud[j+1].value, j + 1, left
		}
		low, before = i, between
	}
	low = min(low, len(cloud)-1)
	return cloud[low].value, low, before
}

// orderStatistic brings the elements from first to last (inclusive) of column
// so far into order that the one at a share of the way is in its place, and
// returns it, linear between two neighbours. Expected time is linear.
func orderStatistic(column []float64, first, last int, share float64) float64 {
	position := float64(first) + share*float64(last-first)
	k := int(position)
	selectAt(column, first, last, k)
	if k >= last {
		return column[k]
	}
	next := column[k+1]
	for _, v := range column[k+2 : last+1] {
		if v < next {
			next = v
		}
	}
	return column[k] + (position-float64(k))*(next-column[k])
}

// selectAt is Hoare's selection: afterwards nothing before k is larger than
// column[k], nothing behind it smaller.
func selectAt(column []float64, low, high, k int) {
	for low < high {
		pivot := column[low+(high-low)/2]
		i, j := low, high
		for i <= j {
			for column[i] < pivot {
				i++
			}
			for column[j] > pivot {
				j--
			}
			if i <= j {
				column[i], column[j] = column[j], column[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			high = j
		case k >= i:
			low = i
		default:
			return
		}
	}
}

// normalCDF is Φ.
func normalCDF(x float64) float64 { return math.Erfc(-x/math.Sqrt2) / 2 }

// normalQuantile is Φ⁻¹.
func normalQuantile(u float64) float64 { return -math.Sqrt2 * math.Erfcinv(2*u) }
