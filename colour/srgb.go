package colour

import (
	"fmt"
	"math"

	"limitans/fault"
)

// RGB are the three channels of an sRGB colour, 0 to 1 each, encoded or linear as
// the function says.
type RGB struct{ R, G, B float64 }

// Bytes makes an encoded colour from three octets.
func Bytes(r, g, b uint8) RGB {
	return RGB{float64(r) / math.MaxUint8, float64(g) / math.MaxUint8, float64(b) / math.MaxUint8}
}

func (c RGB) check() error {
	for _, v := range []float64{c.R, c.G, c.B} {
		if !(v >= 0 && v <= 1) {
			return &fault.Error{Code: fault.Invalid, Where: "colour", What: fmt.Sprintf("%g is no channel", v), Expected: "0 to 1"}
		}
	}
	return nil
}

// Decode turns an encoded channel (0 to 1) into a linear one: c/12.92 up to
// 0.04045, else ((c+0.055)/1.055)^2.4 (IEC 61966-2-1).
func Decode(c float64) float64 {
	if c <= 0.04045 {
		return c / 12.92
	}
	return math.Pow((c+0.055)/1.055, 2.4)
}

// Linear decodes the three channels.
func (c RGB) Linear() (RGB, error) {
	if err := c.check(); err != nil {
		return RGB{}, err
	}
	return RGB{Decode(c.R), Decode(c.G), Decode(c.B)}, nil
}

// XYZ are tristimulus values, with Y of white 1.
type XYZ struct{ X, Y, Z float64 }

// Matrix turns linear RGB into XYZ, and names the white that it gives. The two
// are one value, so that no white of another matrix is taken.
type Matrix struct {
	rows  [3][3]float64
	white XYZ
}

// FourDigit is the matrix as IEC 61966-2-1 prints it, with four decimals; its
// white is (0.9505, 1.0000, 1.0890).
func FourDigit() Matrix {
	return Matrix{[3][3]float64{{0.4124, 0.3576, 0.1805}, {0.2126, 0.7152, 0.0722}, {0.0193, 0.1192, 0.9505}}, XYZ{0.9505, 1, 1.0890}}
}

// SevenDigit is the matrix with seven digits; its white is (0.95047, 1, 1.08883).
func SevenDigit() Matrix {
	return Matrix{
		[3][3]float64{{0.4124564, 0.3575761, 0.1804375}, {0.2126729, 0.7151522, 0.0721750}, {0.0193339, 0.1191920, 0.9503041}},
		XYZ{0.95047, 1, 1.08883},
	}
}

// White is the matrix's own white.
func (m Matrix) White() XYZ { return m.white }

// XYZ turns an encoded colour into tristimulus values.
func (m Matrix) XYZ(c RGB) (XYZ, error) {
	l, err := c.Linear()
	if err != nil {
		return XYZ{}, err
	}
	row := func(i int) float64 { return m.rows[i][0]*l.R + m.rows[i][1]*l.G + m.rows[i][2]*l.B }
	return XYZ{row(0), row(1), row(2)}, nil
}

// Lab is a colour in CIELAB: lightness 0 to 100, green to red, blue to yellow.
type Lab struct{ L, A, B float64 }

// ToLab turns an encoded colour into CIELAB under the matrix's own white.
func (m Matrix) ToLab(c RGB) (Lab, error) {
	xyz, err := m.XYZ(c)
	if err != nil {
		return Lab{}, err
	}
	return xyz.Lab(m.white)
}

// Lab turns tristimulus values into CIELAB under a white (CIE 15):
// L* = 116 f(Y/Yn) − 16, a* = 500(fx − fy), b* = 200(fy − fz), f the cube root
// above (6/29)³ and a line below. Use [Matrix.ToLab] where the colour came
// through a matrix: a foreign white tints every grey.
func (c XYZ) Lab(white XYZ) (Lab, error) {
	for _, v := range []float64{c.X, c.Y, c.Z} {
		if !(v >= 0 && v <= 10) {
			return Lab{}, &fault.Error{Code: fault.Invalid, Where: "tristimulus values", What: fmt.Sprintf("%g cannot be", v), Expected: "0 to 10, with 1 as white"}
		}
	}
	for _, v := range []float64{white.X, white.Y, white.Z} {
		if !(v > 0 && v <= 10) {
			return Lab{}, &fault.Error{Code: fault.Invalid, Where: "white", What: fmt.Sprintf("%g cannot be", v), Expected: "above 0"}
		}
	}
	x, y, z := labCurve(c.X/white.X), labCurve(c.Y/white.Y), labCurve(c.Z/white.Z)
	return Lab{116*y - 16, 500 * (x - y), 200 * (y - z)}, nil
}

func labCurve(t float64) float64 {
	const delta = 6.0 / 29
	if t > delta*delta*delta {
		return math.Cbrt(t)
	}
	return t/(3*delta*delta) + 4.0/29
}
