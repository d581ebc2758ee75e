package signal

// band is a symmetric positive definite matrix that is zero further than its
// half-bandwidth from the diagonal. at[i][k] holds entry (i, i+k); after factor,
// the unit upper factor (k > 0) and the diagonal D (k = 0) of Uᵀ·D·U.
type band struct{ at [][]float64 }

func newBand(n, half int) band {
	b := band{at: make([][]float64, n)}
	cells := make([]float64, n*(half+1))
	for i := range b.at {
		b.at[i] = cells[i*(half+1) : (i+1)*(half+1)]
	}
	return b
}

// half is the half-bandwidth.
func (b band) half() int { return len(b.at[0]) - 1 }

// reach is how many entries right of the diagonal row i has.
func (b band) reach(i int) int { return min(b.half(), len(b.at)-1-i) }

// factor turns b into its own UᵀDU decomposition.
func (b band) factor() {
	for i, row := range b.at {
		for k := 1; k <= b.reach(i); k++ {
			u := row[k] / row[0]
			for l := k; l <= b.reach(i); l++ {
				b.at[i+k][l-k] -= u * row[l]
			}
		}
		for k := 1; k <= b.reach(i); k++ {
			row[k] /= row[0]
		}
	}
}

// solve replaces v by b⁻¹·v; b is factored.
func (b band) solve(v []float64) {
	for i, row := range b.at {
		for k := 1; k <= b.reach(i); k++ {
			v[i+k] -= row[k] * v[i]
		}
	}
	for i := len(v) - 1; i >= 0; i-- {
		v[i] /= b.at[i][0]
		for k := 1; k <= b.reach(i); k++ {
			v[i] -= b.at[i][k] * v[i+k]
		}
	}
}

// inverse returns the entries of b⁻¹ that lie within the band; b is factored.
// Hutchinson & de Hoog 1985, Numer Math 47:99.
func (b band) inverse() band {
	n, half := len(b.at), b.half()
	inv := newBand(n, half)
	entry := func(i, j int) float64 { return inv.at[min(i, j)][max(i, j)-min(i, j)] }
	for i := n - 1; i >= 0; i-- {
		for k := b.reach(i); k >= 0; k-- {
			sum := 0.0
			if k == 0 {
				sum = 1 / b.at[i][0]
			}
			for l := 1; l <= b.reach(i); l++ {
				sum -= b.at[i][l] * entry(i+l, i+k)
			}
			inv.at[i][k] = sum
		}
	}
	return inv
}
