//! `cargo xtask TASK`: the tasks of the repository.

#![allow(clippy::print_stdout, clippy::print_stderr)]

use std::process::ExitCode;
use xtask::{
    Failed, accuracy, architecture, big, demo, dist, documents, fuzz, generate, instructions, opinions, page,
    test, tidy,
};

const HELP: &str = "\
cargo xtask TASK

  demo               build, size the demo project, say where its results are
  test [--offline]   everything that must hold; --offline skips what needs the network, and says so;
                     property tests take a fixed seed unless PROPTEST_RNG_SEED holds another
  tidy               the invariants of the repository
  generate [--check] write the generated documentation, or only compare it
  opinions           compare thousands of states with general-purpose libraries (needs Python)
  instructions       count the instructions of a fixed small year and compare with the kept counts (needs valgrind)
  documents          check the papers of two projects: valid HTML, accessibility, print (needs node and a browser)
  page               build the page from web/ into the files that the program embeds (needs node)
  page-test          try the page in a browser (needs node and a browser of the Chromium family)
  fuzz SECONDS       mutate the inputs of every reader, so many seconds each
  accuracy --rooms N --seed S --sample K
                     K rooms of such a project on their full networks over a year, beside the reduced ones
  big --rooms N --seed S --out DIR
                     a project of N rooms, every one different, for measuring
  dist               the release binary with checksum, licence and notices, in target/dist
";

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let result = match words.as_slice() {
        ["demo"] => demo::run(),
        ["test"] => test::run(test::Network::Online),
        ["test", "--offline"] => test::run(test::Network::Offline),
        ["tidy"] => tidy::run(),
        ["generate"] => architecture::write().and_then(|()| generate::run(generate::Mode::Write)),
        ["generate", "--check"] => generate::run(generate::Mode::Check),
        ["fuzz", seconds] => fuzz::run(seconds),
        ["opinions"] => opinions::run(),
        ["instructions"] => instructions::run().map(|_| ()),
        ["documents"] => documents::run(documents::Scope::All),
        ["page"] => page::build(),
        ["page-test"] => page::test(page::Extent::Whole, test::Network::Online),
        ["accuracy", "--rooms", rooms, "--seed", seed, "--sample", sample] => {
            accuracy::run(rooms, seed, sample)
        }
        ["big", "--rooms", rooms, "--seed", seed, "--out", out] => big::run(rooms, seed, out),
        ["dist"] => dist::run(),
        ["help" | "--help" | "-h"] => {
            print!("{HELP}");
            Ok(())
        }
        _ => {
            eprint!("{HELP}");
            return ExitCode::from(3);
        }
    };
    match result {
        Ok(()) => ExitCode::SUCCESS,
        Err(Failed(message)) => {
            eprintln!("xtask: {message}");
            ExitCode::FAILURE
        }
    }
}
