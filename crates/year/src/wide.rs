//! The loops over rooms with the wider vector instructions of the processor, where it has them.
//!
//! Everything that a loop calls must be inlined into it. The order of operations is that of the plain code and products
//! are not fused with sums, so that every processor gives the same bits; a test holds this.

// Written out so that a copy is always part of the loop.
#![allow(clippy::expl_impl_clone_on_copy)]

use drycoil_rooms::block::{Lanes, Number};
use pulp::{Arch, Simd, WithSimd, bytemuck};
use std::fmt;
use std::ops::{Add, BitAnd, BitOr, Div, Mul, Neg, Sub};

/// Which instructions the loops over rooms use.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Kernel {
    /// The widest that the processor has.
    #[default]
    Widest,
    /// Those of every processor of its kind.
    Plain,
}

impl Kernel {
    pub(crate) fn arch(self) -> Arch {
        match self {
            Self::Widest => Arch::new(),
            Self::Plain => Arch::Scalar,
        }
    }
}

/// A loop with its data.
pub trait Loop {
    /// What it gives.
    type Output;
    /// Runs it.
    ///
    /// `kind`: a number in whose kind to compute.
    fn run<N: Number>(self, kind: N) -> Self::Output;
}

struct Carried<T>(T);

impl<T: Loop> WithSimd for Carried<T> {
    type Output = T::Output;
    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> T::Output {
        self.0.run(Side { simd, v: simd.splat_f64s(0.0) })
    }
}

/// Runs a loop with the instructions of a kernel.
pub fn run_with<T: Loop>(kernel: Kernel, work: T) -> T::Output {
    run(kernel.arch(), work)
}

/// Runs a loop.
#[inline(always)]
pub(crate) fn run<T: Loop>(arch: Arch, work: T) -> T::Output {
    arch.dispatch(Carried(work))
}

/// Numbers side by side in a register.
struct Side<S: Simd> {
    simd: S,
    v: S::f64s,
}

impl<S: Simd> Clone for Side<S> {
    #[inline(always)]
    fn clone(&self) -> Self {
        *self
    }
}

impl<S: Simd> Copy for Side<S> {}

impl<S: Simd> fmt::Debug for Side<S> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.v.fmt(f)
    }
}

macro_rules! operation {
    ($of:ident, $name:ident, $does:ident) => {
        impl<S: Simd> $of for Side<S> {
            type Output = Self;
            #[inline(always)]
            fn $name(self, other: Self) -> Self {
                Self { simd: self.simd, v: self.simd.$does(self.v, other.v) }
            }
        }
    };
}
operation!(Add, add, add_f64s);
operation!(Sub, sub, sub_f64s);
operation!(Mul, mul, mul_f64s);
operation!(Div, div, div_f64s);

impl<S: Simd> Neg for Side<S> {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        Self { simd: self.simd, v: self.simd.neg_f64s(self.v) }
    }
}

/// Yes or no side by side.
struct SideMask<S: Simd> {
    simd: S,
    m: S::m64s,
}

impl<S: Simd> Clone for SideMask<S> {
    #[inline(always)]
    fn clone(&self) -> Self {
        *self
    }
}

impl<S: Simd> Copy for SideMask<S> {}

impl<S: Simd> BitAnd for SideMask<S> {
    type Output = Self;
    #[inline(always)]
    fn bitand(self, other: Self) -> Self {
        Self { simd: self.simd, m: self.simd.and_m64s(self.m, other.m) }
    }
}

impl<S: Simd> BitOr for SideMask<S> {
    type Output = Self;
    #[inline(always)]
    fn bitor(self, other: Self) -> Self {
        Self { simd: self.simd, m: self.simd.or_m64s(self.m, other.m) }
    }
}

impl<S: Simd> Number for Side<S> {
    type Mask = SideMask<S>;
    const WIDTH: usize = S::F64_LANES;
    #[inline(always)]
    fn all(self, x: f64) -> Self {
        Self { simd: self.simd, v: self.simd.splat_f64s(x) }
    }
    #[inline(always)]
    fn of<const L: usize>(self, from: &Lanes<L>, part: usize) -> Self {
        Self { simd: self.simd, v: S::as_simd_f64s(from).0[part] }
    }
    #[inline(always)]
    fn put<const L: usize>(self, to: &mut Lanes<L>, part: usize) {
        S::as_mut_simd_f64s(to).0[part] = self.v;
    }
    #[inline(always)]
    fn above(self, other: Self) -> SideMask<S> {
        SideMask { simd: self.simd, m: self.simd.greater_than_f64s(self.v, other.v) }
    }
    #[inline(always)]
    fn choose(mask: SideMask<S>, yes: Self, no: Self) -> Self {
        let simd = mask.simd;
        let (yes, no) = (simd.transmute_u64s_f64s(yes.v), simd.transmute_u64s_f64s(no.v));
        Self { simd, v: simd.transmute_f64s_u64s(simd.select_u64s(mask.m, yes, no)) }
    }
    #[inline(always)]
    fn larger(self, other: Self) -> Self {
        // One operation of these processors, which gives the other where they cannot be compared.
        if const { cfg!(target_arch = "x86_64") && S::F64_LANES > 1 } {
            Self { simd: self.simd, v: self.simd.max_f64s(self.v, other.v) }
        } else {
            Self::choose(self.above(other), self, other)
        }
    }
    #[inline(always)]
    fn smaller(self, other: Self) -> Self {
        if const { cfg!(target_arch = "x86_64") && S::F64_LANES > 1 } {
            Self { simd: self.simd, v: self.simd.min_f64s(self.v, other.v) }
        } else {
            Self::choose(other.above(self), self, other)
        }
    }
    #[inline(always)]
    fn any(mask: SideMask<S>) -> bool {
        let simd = mask.simd;
        let ones = simd.select_u64s(mask.m, simd.splat_u64s(u64::MAX), simd.splat_u64s(0));
        bytemuck::cast_slice::<S::u64s, u64>(std::slice::from_ref(&ones)).iter().fold(0, |a, b| a | b) != 0
    }
    #[inline(always)]
    fn two_to_last_bits(self) -> Self {
        let mut bits = self.simd.transmute_u64s_f64s(self.v);
        for b in bytemuck::cast_slice_mut::<S::u64s, u64>(std::slice::from_mut(&mut bits)) {
            *b = b.wrapping_add(1023) << 52;
        }
        Self { simd: self.simd, v: self.simd.transmute_f64s_u64s(bits) }
    }
}
