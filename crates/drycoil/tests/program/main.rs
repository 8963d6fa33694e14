//! The program as its users meet it, and what it is made of where that is seen more sharply. One test program, because
//! each would link the whole tree again.

mod air;
mod bad_examples;
mod changes;
mod cli;
mod excursion;
mod findings;
mod headline;
mod honesty;
mod new_project;
mod open;
mod pages;
mod papers;
mod proofs;
mod results;
mod sequence;
mod sheets;
mod size;
mod support;
mod sweeps;
mod weather;
mod working;
mod year;
