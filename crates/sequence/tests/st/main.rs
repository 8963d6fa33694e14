//! The exported Structured Text is run by an evaluator of its own, written from the grammar of the standard, and must
//! do step by step what the interpreter does.

mod compiler;
mod evaluator;
mod lexer;
mod side_by_side;
mod twin;
