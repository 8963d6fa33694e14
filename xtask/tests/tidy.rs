//! The invariants of the repository, so that `cargo test` runs them.

use xtask::tidy::{self, Repository};

macro_rules! invariants {
    ($($name:ident)*) => {
        $(
            #[test]
            fn $name() {
                let repository = Repository::open(&xtask::root()).unwrap();
                let found = tidy::$name(&repository).unwrap();
                assert!(found.is_empty(), "\n{}", found.join("\n"));
            }
        )*

        #[test]
        fn every_check_is_a_test() {
            let names: Vec<String> = tidy::CHECKS.iter().map(|(name, _)| name.replace(' ', "_")).collect();
            assert_eq!(names, [$(stringify!($name)),*]);
        }
    };
}

invariants! {
    library_crates_touch_nothing_outside
    physics_knows_neither_findings_nor_working
    the_table_of_crates_is_true
    hash_maps_are_for_looking_up
    crates_have_documentation
    lints_are_inherited
    no_unsafe_code
    no_mod_files
    dependencies_are_explained
    no_places_of_one_machine
    bad_examples_cover_the_findings
    second_opinions_are_run
    no_network_and_no_telemetry
    the_program_is_portable
    the_page_is_built_from_its_sources
}
