//! Triangular factors of a small dense matrix, in rows one after the other.

/// `P A = L U` by partial pivoting.
#[derive(Debug, Clone)]
pub(crate) struct Lu {
    n: usize,
    /// Rows of both factors; the diagonal of `L` is one.
    rows: Vec<f64>,
    /// Row exchanged with each row in turn.
    exchanged: Vec<usize>,
}

impl Lu {
    /// Factors of the `n` by `n` matrix; `None` when it is singular.
    pub fn new(n: usize, mut rows: Vec<f64>) -> Option<Self> {
        let mut exchanged = Vec::with_capacity(n);
        for k in 0..n {
            let mut pivot = k;
            for r in k + 1..n {
                if rows[r * n + k].abs() > rows[pivot * n + k].abs() {
                    pivot = r;
                }
            }
            let largest = rows[pivot * n + k];
            if largest == 0.0 || !largest.is_finite() {
                return None;
            }
            if pivot != k {
                for c in 0..n {
                    rows.swap(k * n + c, pivot * n + c);
                }
            }
            exchanged.push(pivot);
            let (upper, lower) = rows.split_at_mut((k + 1) * n);
            let own = &upper[k * n..];
            let inverse = 1.0 / own[k];
            for row in lower.chunks_exact_mut(n) {
                let factor = row[k] * inverse;
                row[k] = factor;
                if factor != 0.0 {
                    for (x, u) in row[k + 1..].iter_mut().zip(&own[k + 1..]) {
                        *x -= factor * u;
                    }
                }
            }
        }
        Some(Self { n, rows, exchanged })
    }

    /// Turns the right side into the solution.
    pub fn solve(&self, x: &mut [f64]) {
        let n = self.n;
        for (k, pivot) in self.exchanged.iter().enumerate() {
            x.swap(k, *pivot);
        }
        for r in 1..n {
            let row = &self.rows[r * n..r * n + r];
            let known: f64 = row.iter().zip(&*x).map(|(l, x)| l * x).sum();
            x[r] -= known;
        }
        for r in (0..n).rev() {
            let row = &self.rows[r * n..(r + 1) * n];
            let known: f64 = row[r + 1..].iter().zip(&x[r + 1..n]).map(|(u, x)| u * x).sum();
            x[r] = (x[r] - known) / row[r];
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn phys_singular_matrices_have_no_factors() {
        assert!(Lu::new(2, vec![1.0, 2.0, 2.0, 4.0]).is_none());
        assert!(Lu::new(1, vec![f64::NAN]).is_none());
        assert!(Lu::new(0, vec![]).is_some(), "no unknowns, nothing to divide by");
    }

    proptest! {
        #[test]
        fn inv_solution_gives_the_right_side_back(
            a in proptest::collection::vec(-1.0f64..1.0, 36),
            x in proptest::collection::vec(-10.0f64..10.0, 6),
        ) {
            // A zero on the diagonal makes the rows change places.
            let mut a = a;
            a[0] = 0.0;
            for i in 1..6 {
                a[i * 6 + (i + 1) % 6] += 3.0;
            }
            a[1] += 3.0;
            let mut b: Vec<f64> =
                (0..6).map(|r| (0..6).map(|c| a[r * 6 + c] * x[c]).sum()).collect();
            if let Some(lu) = Lu::new(6, a) {
                lu.solve(&mut b);
                let off = b.iter().zip(&x).map(|(b, x)| (b - x).abs()).fold(0.0, f64::max);
                prop_assert!(off < 1e-6, "{off}");
            }
        }
    }
}
