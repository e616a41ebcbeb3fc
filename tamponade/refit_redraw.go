package tamponade

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// redraw replaces the cloud: a part from the spreads themselves, the rest from
// a normal distribution fitted to the weighted draws and widened, each law by
// its weight. The density of this mixture over that of the spreads is kept with
// every draw, so that weights stay exact.
func (r *refitter) redraw() {
	mean, covariance, contact := r.moments()
	var factor mat.Cholesky
	for ridge := 1e-6; !factor.Factorize(covariance); ridge *= 10 {
		for i := range latentCount { // the cloud has collapsed in some direction
			covariance.SetSym(i, i, covariance.At(i, i)+ridge)
		}
	}
	var lower mat.TriDense
	factor.LTo(&lower)
	logDeterminant := factor.LogDet()
	contact = 0.1 + 0.8*contact // neither law is given up
	for i := range r.draws {
		l := latent{law: VolumeLaw}
		if r.random.Float64() < priorShare {
			l = r.draw(r.random)
		} else {
			var z [latentCount]float64
			for k := range z {
				z[k] = r.random.NormFloat64()
			}
			for k := range latentCount {
				l.z[k] = mean[k]
				for j := range k + 1 {
					l.z[k] += lower.At(k, j) * z[j]
				}
			}
			if r.random.Float64() < contact {
				l.law = ContactAreaLaw
			}
		}
		r.draws[i] = l
		r.density[i] = r.densityOf(&l, mean, &lower, logDeterminant, contact)
	}
	r.prepare()
}

// densityOf is the density of the proposal over that of the spreads.
func (r *refitter) densityOf(l *latent, mean [latentCount]float64, lower *mat.TriDense, logDeterminant, contact float64) float64 {
	var scaled [latentCount]float64
	square, priorSquare := 0.0, 0.0
	for k := range latentCount { // forward substitution
		v := l.z[k] - mean[k]
		for j := range k {
			v -= lower.At(k, j) * scaled[j]
		}
		scaled[k] = v / lower.At(k, k)
		square += scaled[k] * scaled[k]
		priorSquare += l.z[k] * l.z[k]
	}
	law := (1 - contact) / (1 - contactAreaShare)
	if l.law == ContactAreaLaw {
		law = contact / contactAreaShare
	}
	return priorShare + (1-priorShare)*law*math.Exp((priorSquare-square-logDeterminant)/2)
}

// moments are the weighted mean, widened covariance and share of the
// contact-area law of the cloud.
func (r *refitter) moments() (mean [latentCount]float64, covariance *mat.SymDense, contact float64) {
	total := 0.0
	for i, w := range r.weights {
		total += w
		for k := range mean {
			mean[k] += w * r.draws[i].z[k]
		}
		if r.draws[i].law == ContactAreaLaw {
			contact += w
		}
	}
	for k := range mean {
		mean[k] /= total
	}
	covariance = mat.NewSymDense(latentCount, nil)
	for i, w := range r.weights {
		for k := range latentCount {
			for j := range k + 1 {
				product := (r.draws[i].z[k] - mean[k]) * (r.draws[i].z[j] - mean[j])
				covariance.SetSym(k, j, covariance.At(k, j)+proposalWidth*proposalWidth*w/total*product)
			}
		}
	}
	return mean, covariance, contact / total
}
