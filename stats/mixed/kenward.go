package mixed

// kenwardRoger returns the variance of an estimate ℓᵀβ̂, plain and adjusted, in
// units of σ², and its degrees of freedom (Kenward and Roger 1997, Biometrics
// 53:983, from memory; the formulas as in the source of pbkrtest 0.5.2, Halekoh
// and Højsgaard 2014). The arguments are λ and the coordinates of ℓ.
//
// In the canonical coordinates everything is a sum over j, with w_j = 1/(1+λd_j):
//
//	v  = plain + λ Σ m_j² w_j                                ℓᵀΦℓ
//	I  = ½ [Σ d_j²w_j²  Σ d_jw_j²; ·  errorDF + Σ w_j²]      information on (σ_B², σ²), Σ over d_j > 0
//	W  = I⁻¹                                                 covariance of their estimates
//	g  = (Σ m_j²w_j²,  plain + λ² Σ d_jm_j²w_j²)             derivatives of v by σ_B² and σ²
//	v* = v + 2κ·(1, −λ) W (1, −λ)ᵀ,   κ = Σ d_jm_j²w_j³      ℓᵀΦ_Aℓ
//	DF = 2v²/(gᵀWg)
//
// κ comes from ℓᵀΦ(Q_rs − P_rΦP_s)Φℓ = zᵀG_r P G_s z, z the weights of the
// observations in ℓᵀβ̂, with P z = −λ P G_B z, because P V z = 0: only the
// uncertainty of the ratio inflates v. The form in W reduces to 2·df/det, df =
// tests − treatments and det that of 2I. For a single combination A₁ = A₂ =
// gᵀWg/v² in the paper, its F needs no scaling, and its degrees of freedom
// are 2/A₁. By the Cauchy–Schwarz inequality, 0 < DF ≤ df.
//
// Where no d_j is positive, σ² is the only parameter with an estimate, v* = v
// and DF = errorDF, for combinations whose m_j vanish.
func (c *canonical) kenwardRoger(ratio, plain float64, m []float64) (v, adjusted, df float64) {
	if c.blockDF == 0 {
		return plain, plain, float64(c.errorDF)
	}
	var sumBB, sumBE, kappa, gB float64
	sumEE, gE := float64(c.errorDF), plain
	v = plain
	for j, d := range c.eigen {
		w := 1 / (1 + ratio*d)
		mw := m[j] * w
		v += ratio * m[j] * mw
		gB += mw * mw
		gE += d * (ratio * mw) * (ratio * mw)
		kappa += d * mw * mw * w
		sumBB += d * w * d * w
		sumBE += d * w * w
		if d > 0 {
			sumEE += w * w
		}
	}
	det := sumBB*sumEE - sumBE*sumBE // ≥ errorDF·sumBB, by Cauchy and Schwarz
	adjusted = v + 4*kappa*float64(c.df())/det
	spread := 2 * (sumEE*gB*gB - 2*sumBE*gB*gE + sumBB*gE*gE) / det // gᵀWg
	return v, adjusted, 2 * v * v / spread
}
