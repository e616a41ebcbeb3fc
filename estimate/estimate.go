package estimate

import (
	"encoding/json"
	"math"
)

// Z95 is the two-sided 95 % point of the standard normal distribution,
// Φ⁻¹(0.975), rounded to float64.
const Z95 = 1.959963984540054

// Estimate is a value with its 95 % interval [Low, High] and the reason for
// that interval. The unit stands in the name of the field that holds it.
// A missing estimate has NaN in all three numbers.
type Estimate struct {
	Value, Low, High float64
	Basis            string
}

// Missing returns an estimate without a number; why is shown instead of it.
func Missing(why string) Estimate {
	nan := math.NaN()
	return Estimate{nan, nan, nan, why}
}

// Normal returns value with the interval value ± 1.96·standardDeviation.
func Normal(value, standardDeviation float64, basis string) Estimate {
	half := Z95 * standardDeviation
	return Estimate{value, value - half, value + half, basis}
}

// NormalPositive is [Normal] for a quantity that cannot be negative, such as a
// length: the interval ends at zero, which is a fact about the quantity and
// not a rounding of the measurement.
func NormalPositive(value, standardDeviation float64, basis string) Estimate {
	e := Normal(value, standardDeviation, basis)
	e.Low = math.Max(0, e.Low)
	return e
}

// Known reports whether the estimate has a number.
func (e Estimate) Known() bool { return !math.IsNaN(e.Value) }

// Scaled returns the estimate multiplied by a positive, exactly known factor.
func (e Estimate) Scaled(factor float64) Estimate {
	return Estimate{e.Value * factor, e.Low * factor, e.High * factor, e.Basis}
}

// MarshalJSON writes {"value","low","high","basis"}; missing numbers are null.
func (e Estimate) MarshalJSON() ([]byte, error) {
	number := func(x float64) *float64 {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return nil
		}
		return &x
	}
	return json.Marshal(struct {
		Value *float64 `json:"value"`
		Low   *float64 `json:"low"`
		High  *float64 `json:"high"`
		Basis string   `json:"basis"`
	}{number(e.Value), number(e.Low), number(e.High), e.Basis})
}

// UnmarshalJSON reads what [Estimate.MarshalJSON] writes.
func (e *Estimate) UnmarshalJSON(data []byte) error {
	var in struct {
		Value *float64 `json:"value"`
		Low   *float64 `json:"low"`
		High  *float64 `json:"high"`
		Basis string   `json:"basis"`
	}
	if err := json.Unmarshal(data, &in); err != nil {
		return err
	}
	number := func(x *float64) float64 {
		if x == nil {
			return math.NaN()
		}
		return *x
	}
	*e = Estimate{number(in.Value), number(in.Low), number(in.High), in.Basis}
	return nil
}
