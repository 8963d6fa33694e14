//! A construction as a small linear network between its two surfaces.
//!
//! The layers are cut into cells (finite volumes with half-cell resistances to massless surface nodes). From that
//! chain a smaller model is made by congruence: the two surface temperatures with their static profiles, and a few
//! interior shapes, its own responses at chosen periods (component mode synthesis). Because the static profiles are kept,
//! the steady transmittance and the total heat capacity are those of the layers exactly, whatever is left out, so
//! the first law still closes. How many shapes are needed is decided by comparison with the exact transfer matrix
//! of ISO 13786, and the errors reached are kept with the model.

use crate::error::RoomError;
use crate::layer::{Construction, Layer};
use crate::transfer_matrix::raw_matrix;
use drycoil_units::Quantity;
use nalgebra::{Complex, DMatrix, SymmetricEigen};
use std::f64::consts::PI;

/// Inside and outside film coefficient at which the accuracy of a reduced wall is judged, W/(m2 K).
const JUDGED_FILMS: (f64, f64) = (1.0 / 0.13, 1.0 / 0.04);
const DAY_S: f64 = 86_400.0;

/// How finely a wall is resolved.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WallDetail {
    /// The smallest model whose periodic admittances and transmittance (films 0.13 and 0.04 m2 K/W) are within
    /// `day` of the exact ones at 24 h and whose admittances are within `three_hours` at 3 h, both relative (see
    /// [`WallModel::error_at_day`]).
    Reduced {
        /// Largest relative error at 24 h.
        day: f64,
        /// Largest relative error at 3 h.
        three_hours: f64,
    },
    /// Every cell kept: the reference. Cells per penetration depth at 24 h.
    Cells {
        /// Cells per periodic penetration depth.
        per_depth: f64,
    },
}

impl WallDetail {
    /// Default: 0.2 % at 24 h, 2 % at 3 h.
    pub const DESIGN: Self = Self::Reduced { day: 2e-3, three_hours: 2e-2 };
    /// Reference: every cell kept, eight to a penetration depth.
    pub const REFERENCE: Self = Self::Cells { per_depth: 8.0 };
}

/// Linear model of one m2 of wall between its surfaces: `C dx/dt = -K x + heat`, the first two entries of `x` being
/// the inside and outside surface temperatures.
#[derive(Debug, Clone, PartialEq)]
pub struct WallModel {
    /// Capacity matrix, J/(m2 K), symmetric and positive semidefinite.
    pub capacity: DMatrix<f64>,
    /// Conductance matrix, W/(m2 K), symmetric and positive semidefinite.
    pub conductance: DMatrix<f64>,
    /// Coordinates of the state in which the whole wall is at 1 K.
    pub uniform: Vec<f64>,
    /// Cells of the chain that the model was made from.
    pub cells: usize,
    /// Largest relative error of Y11, Y22 and Y12 at 24 h against the exact transfer matrix (that of Y12 relative to
    /// at least a twentieth of the steady transmittance: in a thicker wall no daily swing comes through).
    pub error_at_day: f64,
    /// Largest relative error of Y11 and Y22 at 3 h against the exact transfer matrix.
    pub error_at_three_hours: f64,
}

/// Chain of massless inside surface, cells, massless outside surface.
struct Chain {
    /// Conductances between successive nodes (cells + 1 of them).
    g: Vec<f64>,
    /// Capacities of the cells.
    c: Vec<f64>,
}

fn chain(construction: &Construction, per_depth: f64) -> Chain {
    let (mut r, mut c) = (Vec::new(), Vec::new());
    let mut pending = 0.0;
    for layer in construction.layers() {
        match layer {
            Layer::Resistance(x) => pending += x,
            Layer::Solid(s) => {
                let depth = (s.diffusivity_m2_per_s() * DAY_S / PI).sqrt();
                let n = (s.thickness_m() / depth * per_depth).ceil().clamp(4.0, 400.0) as usize;
                let cell_r = layer.raw_resistance() / n as f64;
                let cell_c = layer.raw_areal_capacity_j_per_m2_k() / n as f64;
                for _ in 0..n {
                    r.push(pending + cell_r / 2.0);
                    c.push(cell_c);
                    pending = cell_r / 2.0;
                }
            }
        }
    }
    r.push(pending);
    Chain { g: r.into_iter().map(|x| 1.0 / x).collect(), c }
}

/// Periodic admittances `[Y11, Y22, Y12]` with films.
fn exact(construction: &Construction, (h_i, h_o): (f64, f64), w: f64) -> Option<[Complex<f64>; 3]> {
    let z = raw_matrix(construction, 1.0 / h_i, 1.0 / h_o, w)?;
    Some([-z[0][0] / z[0][1], -z[1][1] / z[0][1], -Complex::new(1.0, 0.0) / z[0][1]])
}

/// Admittances with films from the surface-to-surface dynamic stiffness `d` = `[d11, d12, d22]`.
fn with_films(d: [Complex<f64>; 3], (h_i, h_o): (f64, f64)) -> [Complex<f64>; 3] {
    let a = d[0] + h_i;
    let b = d[2] + h_o;
    let det = a * b - d[1] * d[1];
    [-(b / det * h_i - 1.0) * h_i, -(a / det * h_o - 1.0) * h_o, -d[1] / det * h_i * h_o]
}

/// Largest relative errors `(at 24 h over all three, at 3 h over the admittances)`.
fn errors(construction: &Construction, stiffness: impl Fn(f64) -> [Complex<f64>; 3]) -> (f64, f64) {
    let mut out = (f64::INFINITY, f64::INFINITY);
    let day = 2.0 * PI / DAY_S;
    if let Some(e) = exact(construction, JUDGED_FILMS, day) {
        let m = with_films(stiffness(day), JUDGED_FILMS);
        // A periodic transmittance below a twentieth of the steady one is judged against that twentieth.
        let u = 1.0 / (1.0 / JUDGED_FILMS.0 + construction.resistance().si() + 1.0 / JUDGED_FILMS.1);
        let floor = [0.0, 0.0, 0.05 * u];
        out.0 = (0..3).map(|i| (m[i] - e[i]).norm() / e[i].norm().max(floor[i])).fold(0.0, f64::max);
    }
    if let Some(e) = exact(construction, JUDGED_FILMS, 8.0 * day) {
        let m = with_films(stiffness(8.0 * day), JUDGED_FILMS);
        out.1 = (0..2).map(|i| (m[i] - e[i]).norm() / e[i].norm()).fold(0.0, f64::max);
    }
    out
}

impl Chain {
    fn cells(&self) -> usize {
        self.c.len()
    }

    /// Product of the interior conductance matrix with a vector over the cells.
    fn interior(&self, v: &[f64]) -> Vec<f64> {
        let n = self.cells();
        (0..n)
            .map(|i| {
                let left = if i > 0 { v[i - 1] } else { 0.0 };
                let right = if i + 1 < n { v[i + 1] } else { 0.0 };
                self.g[i] * (v[i] - left) + self.g[i + 1] * (v[i] - right)
            })
            .collect()
    }

    /// Solves `(K + i w C) x = b` over the cells (tridiagonal elimination).
    fn solve(&self, w: f64, b: &[f64]) -> Vec<Complex<f64>> {
        let n = self.cells();
        let mut inverse = Vec::with_capacity(n);
        let mut x: Vec<Complex<f64>> = Vec::with_capacity(n);
        for i in 0..n {
            let mut d = Complex::new(self.g[i] + self.g[i + 1], w * self.c[i]);
            let mut y = Complex::new(b[i], 0.0);
            if i > 0 {
                let m = inverse[i - 1] * self.g[i];
                d -= m * self.g[i];
                y += m * x[i - 1];
            }
            inverse.push(d.inv());
            x.push(y);
        }
        for i in (0..n).rev() {
            let next = if i + 1 < n { x[i + 1] * self.g[i + 1] } else { Complex::new(0.0, 0.0) };
            x[i] = (x[i] + next) * inverse[i];
        }
        x
    }

    /// Dynamic stiffness of the full chain between its surfaces, at `s = i w`.
    fn stiffness(&self, w: f64) -> [Complex<f64>; 3] {
        let n = self.cells();
        let mut load = vec![0.0; n];
        load[0] = self.g[0];
        let a = self.solve(w, &load);
        load[0] = 0.0;
        load[n - 1] = self.g[n];
        let b = self.solve(w, &load);
        [self.g[0] - a[0] * self.g[0], -b[0] * self.g[0], self.g[n] - b[n - 1] * self.g[n]]
    }

    fn dot(&self, a: &[f64], b: &[f64]) -> f64 {
        self.c.iter().zip(a).zip(b).map(|((c, x), y)| c * x * y).sum()
    }
}

impl WallModel {
    /// Builds the model.
    ///
    /// A construction of pure resistances has no state: it is refused here; enter it as a window or give it a solid
    /// layer. A reduced model that misses the accuracy asked for with sixteen shapes is refused as well.
    ///
    /// ```
    /// use drycoil_rooms::{Construction, Layer, WallDetail, WallModel};
    /// use drycoil_units::{Conductivity, Density, Length, Quantity, SpecificHeat};
    /// let concrete = Layer::solid(
    ///     Length::metres(0.2),
    ///     Conductivity::from_si(2.0),
    ///     Density::from_si(2400.0),
    ///     SpecificHeat::from_si(1000.0),
    /// )?;
    /// let wall = WallModel::new(&Construction::new(vec![concrete])?, WallDetail::DESIGN)?;
    /// assert!(wall.error_at_day < 0.002);
    /// assert!((wall.total_capacity_j_per_m2_k() - 480_000.0).abs() < 1e-6);
    /// # Ok::<(), drycoil_rooms::RoomError>(())
    /// ```
    pub fn new(construction: &Construction, detail: WallDetail) -> Result<Self, RoomError> {
        if construction.raw_areal_capacity_j_per_m2_k() == 0.0 {
            return Err(RoomError::Empty { what: "list of solid layers of a wall" });
        }
        match detail {
            WallDetail::Cells { per_depth } => {
                let per_depth =
                    crate::error::within("cells per penetration depth", per_depth, 1.0, 100.0, "1")?;
                Ok(Self::every_cell(construction, &chain(construction, per_depth)))
            }
            WallDetail::Reduced { day, three_hours } => Self::reduced(construction, day, three_hours),
        }
    }

    fn every_cell(construction: &Construction, chain: &Chain) -> Self {
        let n = chain.cells() + 2;
        let (mut k, mut c) = (DMatrix::zeros(n, n), DMatrix::zeros(n, n));
        // Order: inside surface, outside surface, cells.
        let place = |node: usize| match node {
            0 => 0,
            x if x == n - 1 => 1,
            x => x + 1,
        };
        for (i, g) in chain.g.iter().enumerate() {
            let (a, b) = (place(i), place(i + 1));
            k[(a, a)] += g;
            k[(b, b)] += g;
            k[(a, b)] -= g;
            k[(b, a)] -= g;
        }
        for (i, x) in chain.c.iter().enumerate() {
            c[(i + 2, i + 2)] = *x;
        }
        let (error_at_day, error_at_three_hours) = errors(construction, |w| chain.stiffness(w));
        Self {
            capacity: c,
            conductance: k,
            uniform: vec![1.0; n],
            cells: n - 2,
            error_at_day,
            error_at_three_hours,
        }
    }

    fn reduced(construction: &Construction, day: f64, three_hours: f64) -> Result<Self, RoomError> {
        let chain = chain(construction, 24.0);
        let n = chain.cells();
        let total_r: f64 = chain.g.iter().map(|g| 1.0 / g).sum();
        let outside: Vec<f64> = chain.g[..n]
            .iter()
            .scan(0.0, |r, g| {
                *r += 1.0 / g;
                Some(*r / total_r)
            })
            .collect();
        let psi = [outside.iter().map(|x| 1.0 - x).collect::<Vec<f64>>(), outside];
        let u = 1.0 / total_r;
        let cpp = [chain.dot(&psi[0], &psi[0]), chain.dot(&psi[0], &psi[1]), chain.dot(&psi[1], &psi[1])];

        // Interior shapes, orthonormal in the capacity: real and imaginary parts of the interior's response at a
        // few periods, so that the model is exact there once both parts for both surfaces are in.
        let mut basis: Vec<Vec<f64>> = Vec::new();
        let mut best = f64::INFINITY;
        let mut judged = None;
        for hours in [24.0, 3.0, 168.0, 8.0] {
            let w = 2.0 * PI / (3600.0 * hours);
            let response: Vec<Vec<Complex<f64>>> = psi
                .iter()
                .map(|p| {
                    let load: Vec<f64> = chain.c.iter().zip(p).map(|(c, x)| c * x).collect();
                    chain.solve(w, &load)
                })
                .collect();
            for imaginary in [false, true] {
                for r in &response {
                    // Judge the model before it grows.
                    if judged != Some(basis.len()) {
                        judged = Some(basis.len());
                        let model = Self::project(construction, &chain, &psi, &basis, u, cpp);
                        if model.error_at_day <= day && model.error_at_three_hours <= three_hours {
                            return Ok(model);
                        }
                        best = best.min(model.error_at_day);
                    }
                    let mut v: Vec<f64> = r.iter().map(|x| if imaginary { x.im } else { x.re }).collect();
                    let before = chain.dot(&v, &v).sqrt();
                    for _ in 0..2 {
                        for b in &basis {
                            let d = chain.dot(&v, b);
                            v.iter_mut().zip(b).for_each(|(x, y)| *x -= d * y);
                        }
                    }
                    let norm = chain.dot(&v, &v).sqrt();
                    if norm > 1e-7 * before && basis.len() < n {
                        for x in &mut v {
                            *x /= norm;
                        }
                        basis.push(v);
                    }
                }
            }
        }
        let model = Self::project(construction, &chain, &psi, &basis, u, cpp);
        if model.error_at_day <= day && model.error_at_three_hours <= three_hours {
            return Ok(model);
        }
        Err(RoomError::NotAccurate { reached: best.min(model.error_at_day), wanted: day })
    }

    fn project(
        construction: &Construction,
        chain: &Chain,
        psi: &[Vec<f64>; 2],
        basis: &[Vec<f64>],
        u: f64,
        cpp: [f64; 3],
    ) -> Self {
        let k = basis.len();
        let images: Vec<Vec<f64>> = basis.iter().map(|v| chain.interior(v)).collect();
        let kr = DMatrix::from_fn(k, k, |i, j| {
            let (i, j) = (i.min(j), i.max(j));
            basis[i].iter().zip(&images[j]).map(|(a, b)| a * b).sum::<f64>()
        });
        // An eigen-decomposition of nothing is nothing.
        let (rates, shapes) = if k == 0 {
            (Vec::new(), kr)
        } else {
            let eigen = SymmetricEigen::new(kr);
            (eigen.eigenvalues.iter().copied().collect(), eigen.eigenvectors)
        };
        let port: Vec<[f64; 2]> =
            basis.iter().map(|v| [chain.dot(&psi[0], v), chain.dot(&psi[1], v)]).collect();
        let coupling: Vec<[f64; 2]> = (0..k)
            .map(|m| {
                let mut c = [0.0; 2];
                for (i, p) in port.iter().enumerate() {
                    c[0] += p[0] * shapes[(i, m)];
                    c[1] += p[1] * shapes[(i, m)];
                }
                c
            })
            .collect();
        let (error_at_day, error_at_three_hours) = errors(construction, |w| {
            let s = Complex::new(0.0, w);
            let mut d = [u + s * cpp[0], -u + s * cpp[1], u + s * cpp[2]];
            for (c, rate) in coupling.iter().zip(&rates) {
                let f = s * s / (s + *rate);
                d[0] -= f * c[0] * c[0];
                d[1] -= f * c[0] * c[1];
                d[2] -= f * c[1] * c[1];
            }
            d
        });
        let n = k + 2;
        let (mut conductance, mut capacity) = (DMatrix::zeros(n, n), DMatrix::zeros(n, n));
        for (i, j, a, b) in [(0, 0, u, cpp[0]), (0, 1, -u, cpp[1]), (1, 0, -u, cpp[1]), (1, 1, u, cpp[2])] {
            conductance[(i, j)] = a;
            capacity[(i, j)] = b;
        }
        for m in 0..k {
            conductance[(m + 2, m + 2)] = rates[m];
            capacity[(m + 2, m + 2)] = 1.0;
            for p in 0..2 {
                capacity[(p, m + 2)] = coupling[m][p];
                capacity[(m + 2, p)] = coupling[m][p];
            }
        }
        let mut uniform = vec![0.0; n];
        uniform[0] = 1.0;
        uniform[1] = 1.0;
        Self { capacity, conductance, uniform, cells: chain.cells(), error_at_day, error_at_three_hours }
    }

    /// States of the model.
    pub fn states(&self) -> usize {
        self.capacity.nrows()
    }

    /// Heat capacity of the whole wall, J/(m2 K).
    pub fn total_capacity_j_per_m2_k(&self) -> f64 {
        let n = self.states();
        let mut sum = 0.0;
        for i in 0..n {
            for j in 0..n {
                sum += self.uniform[i] * self.capacity[(i, j)] * self.uniform[j];
            }
        }
        sum
    }
}

/// A wall with its films in modal form, per m2: `tau dz/dt = -z + inside f_in + outside f_out`, with `f` the heat
/// flow density into the surface nodes, film times air temperature included.
#[derive(Debug, Clone)]
pub(crate) struct FilmedWall {
    /// Time constants, s.
    pub tau_s: Vec<f64>,
    /// Inside surface temperature per unit state, also the input factor.
    pub inside: Vec<f64>,
    /// Outside surface temperature per unit state.
    pub outside: Vec<f64>,
    /// Coordinates of the uniform state of 1 K.
    pub uniform: Vec<f64>,
    /// Surface temperature per surface heat flow without delay `[in-in, in-out, out-out]`, m2 K/W.
    pub direct: [f64; 3],
}

/// States faster than this are treated as massless (their share of a day's swing is below 4e-4 of what they carry).
const FASTEST_S: f64 = 5.0;

pub(crate) fn with_film_coefficients(
    wall: &WallModel,
    h_in: f64,
    h_out: f64,
) -> Result<FilmedWall, RoomError> {
    let n = wall.states();
    let mut k = wall.conductance.clone();
    k[(0, 0)] += h_in;
    k[(1, 1)] += h_out;
    let lower =
        k.clone().cholesky().ok_or(RoomError::Singular { what: "conductance matrix of a wall" })?.unpack();
    let half = lower.solve_lower_triangular(&wall.capacity).ok_or(RoomError::Singular { what: "wall" })?;
    let m = lower.solve_lower_triangular(&half.transpose()).ok_or(RoomError::Singular { what: "wall" })?;
    let m = (&m + m.transpose()) * 0.5;
    let eigen = SymmetricEigen::new(m);
    let vectors =
        lower.tr_solve_lower_triangular(&eigen.eigenvectors).ok_or(RoomError::Singular { what: "wall" })?;
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|a, b| eigen.eigenvalues[*b].total_cmp(&eigen.eigenvalues[*a]));
    let mut out = FilmedWall {
        tau_s: Vec::with_capacity(n),
        inside: Vec::with_capacity(n),
        outside: Vec::with_capacity(n),
        uniform: Vec::with_capacity(n),
        direct: [0.0; 3],
    };
    for i in order {
        let (a, b) = (vectors[(0, i)], vectors[(1, i)]);
        if eigen.eigenvalues[i] >= FASTEST_S {
            out.tau_s.push(eigen.eigenvalues[i]);
            out.inside.push(a);
            out.outside.push(b);
            out.uniform.push(h_in * a + h_out * b);
        } else {
            out.direct[0] += a * a;
            out.direct[1] += a * b;
            out.direct[2] += b * b;
        }
    }
    Ok(out)
}
