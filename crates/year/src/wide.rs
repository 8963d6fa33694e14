//! The loops over rooms with the wider vector instructions of the processor, where it has them.
//!
//! Everything that a loop calls must be inlined into it. The order of operations is that of the plain code and products
//! are not fused with sums, so that every processor gives the same bits; a test holds this.

use pulp::{Arch, NullaryFnOnce};

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
pub(crate) trait Loop {
    type Output;
    fn run(self) -> Self::Output;
}

struct Carried<T>(T);

impl<T: Loop> NullaryFnOnce for Carried<T> {
    type Output = T::Output;
    #[inline(always)]
    fn call(self) -> T::Output {
        self.0.run()
    }
}

/// Runs a loop.
#[inline(always)]
pub(crate) fn run<T: Loop>(arch: Arch, work: T) -> T::Output {
    arch.dispatch(Carried(work))
}
