//! Numbers that look random and depend on a seed alone.

/// Vigna's `splitmix64` (public domain, 2015): passes through all 2^64 states.
#[derive(Debug, Clone)]
pub struct Random(u64);

impl Random {
    /// A stream of its own for each pair of seed and stream number.
    pub const fn new(seed: u64, stream: u64) -> Self {
        Self(seed ^ stream.wrapping_mul(0xD1B5_4A32_D192_ED03))
    }

    /// The next 64 bits.
    pub const fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// A number from 0 up to, not including, 1.
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// A whole number below `count`, which is above zero.
    pub fn below(&mut self, count: usize) -> usize {
        // The bias of a product of 64 bits with a count of points is below 1e-13.
        ((u128::from(self.bits()) * count as u128) >> 64) as usize
    }
}

/// `samples` points in the unit cube of `dimensions`: along each axis exactly one in each of `samples` equal slices
/// (Latin hypercube; `McKay`, Beckman and Conover 1979). `points[i][d]`.
///
/// ```
/// let points = drycoil_year::sweep::random::latin_hypercube(2, 10, 7);
/// let mut slices: Vec<usize> = points.iter().map(|p| (p[0] * 10.0) as usize).collect();
/// slices.sort_unstable();
/// assert_eq!(slices, (0..10).collect::<Vec<_>>());
/// ```
pub fn latin_hypercube(dimensions: usize, samples: usize, seed: u64) -> Vec<Vec<f64>> {
    let mut points = vec![vec![0.0; dimensions]; samples];
    for d in 0..dimensions {
        let mut random = Random::new(seed, d as u64 + 1);
        let mut order: Vec<usize> = (0..samples).collect();
        for i in (1..samples).rev() {
            order.swap(i, random.below(i + 1));
        }
        for (point, slice) in points.iter_mut().zip(order) {
            point[d] = (slice as f64 + random.unit()) / samples as f64;
        }
    }
    points
}

#[cfg(test)]
mod tests {
    use super::*;

    /// First outputs of splitmix64 for seed 1234567, as published with the generator (from memory of its test vectors).
    #[test]
    fn val_splitmix64() {
        let mut r = Random::new(1_234_567, 0);
        assert_eq!(r.bits(), 6_457_827_717_110_365_317);
        assert_eq!(r.bits(), 3_203_168_211_198_807_973);
    }

    #[test]
    fn phys_samples_fill_every_axis_and_depend_on_the_seed() {
        let points = latin_hypercube(5, 64, 3);
        for d in 0..5 {
            let mut slices: Vec<usize> = points.iter().map(|p| (p[d] * 64.0) as usize).collect();
            slices.sort_unstable();
            assert_eq!(slices, (0..64).collect::<Vec<_>>());
            let mean = points.iter().map(|p| p[d]).sum::<f64>() / 64.0;
            // Each slice adds at most half its width: 1/128.
            assert!((mean - 0.5).abs() < 1.0 / 128.0);
        }
        assert_eq!(points, latin_hypercube(5, 64, 3));
        assert_ne!(points, latin_hypercube(5, 64, 4));
        // Axes are not copies of each other.
        let product: f64 = points.iter().map(|p| (p[0] - 0.5) * (p[1] - 0.5)).sum::<f64>() / 64.0;
        assert!(product.abs() < 0.04, "{product}");
    }
}
