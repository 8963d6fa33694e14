//! Life-cycle cost against published numbers, identities and bounds.

use drycoil_economics::*;
use proptest::prelude::*;

fn d(share: f64) -> DiscountRate {
    DiscountRate::per_year(share).unwrap()
}

fn e(share: f64) -> EscalationRate {
    EscalationRate::per_year(share).unwrap()
}

fn n(years: u32) -> YearCount {
    YearCount::new(years).unwrap()
}

fn at(years: f64) -> YearsAfterBase {
    YearsAfterBase::new(years).unwrap()
}

fn money(amount: f64) -> Priced<Money> {
    Priced::Known(Money::amount(amount))
}

fn known(priced: &Priced<Money>) -> f64 {
    priced.known().unwrap().value()
}

fn study(discount: f64, years: u32) -> Study {
    Study { discount: d(discount), years: n(years) }
}

fn cost_of(name: &str, costs: Vec<CostItem>, study: Study) -> LifeCycleCost {
    life_cycle_cost(&Alternative { name: name.into(), costs }, study).unwrap()
}

fn comparison(base: &LifeCycleCost, alternative: &LifeCycleCost) -> Comparison {
    match compare(base, alternative).unwrap() {
        Priced::Known(comparison) => comparison,
        Priced::NotPriced(missing) => panic!("{missing}"),
    }
}

fn close(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "{found} against {expected} within {tolerance}");
}

/// NIST Handbook 135 formulas; numbers recomputed from them outside the program. Tolerance: half the last digit.
#[test]
fn val_factors_of_the_handbook() {
    let years = [1, 5, 10, 15, 20, 25, 30];
    let single = [0.9709, 0.8626, 0.7441, 0.6419, 0.5537, 0.4776, 0.4120];
    let uniform = [0.971, 4.580, 8.530, 11.938, 14.877, 17.413, 19.600];
    for ((years, single), uniform) in years.into_iter().zip(single).zip(uniform) {
        close(single_present_value(d(0.03), at(f64::from(years))), single, 0.5e-4);
        close(uniform_present_value(d(0.03), n(years)), uniform, 0.5e-3);
    }
    for (years, single, uniform) in
        [(5, 0.7130, 4.100), (10, 0.5083, 7.024), (20, 0.2584, 10.594), (30, 0.1314, 12.409)]
    {
        close(single_present_value(d(0.07), at(f64::from(years))), single, 0.5e-4);
        close(uniform_present_value(d(0.07), n(years)), uniform, 0.5e-3);
    }
}

/// As printed by NIST Handbook 135 at 3 %, from memory. Tolerance: half the last digit.
#[test]
fn val_factors_printed_by_the_handbook() {
    for (years, single) in [(10, 0.744), (20, 0.554), (25, 0.478)] {
        close(single_present_value(d(0.03), at(f64::from(years))), single, 0.5e-3);
    }
    for (years, uniform) in [(10, 8.53), (20, 14.88), (25, 17.41), (30, 19.60)] {
        close(uniform_present_value(d(0.03), n(years)), uniform, 0.5e-2);
    }
}

/// Recomputed from the formula of NIST Handbook 135 outside the program. Tolerance: half the last digit.
#[test]
fn val_modified_uniform_factors() {
    let table: [(f64, [f64; 4]); 3] = [
        (0.01, [8.9919, 16.3827, 19.5689, 22.4576]),
        (0.02, [9.4813, 18.0812, 22.0766, 25.8818]),
        (-0.005, [8.3092, 14.1898, 16.4501, 18.3516]),
    ];
    for (rate, factors) in table {
        for (years, factor) in [10, 20, 25, 30].into_iter().zip(factors) {
            close(escalating_present_value(d(0.03), e(rate), n(years)), factor, 0.5e-4);
        }
    }
    // Where d = e each payment is worth 1: exactly the number of years.
    for years in [10, 20, 25, 30] {
        assert_eq!(escalating_present_value(d(0.03), e(0.03), n(years)), f64::from(years));
    }
    assert_eq!(uniform_present_value(d(0.0), n(17)), 17.0);
}

/// Panneerselvam, Engineering Economics, Examples 4.1 and 4.2, in a transcription of the worked examples; digits after
/// the third recomputed. Tolerance: half the last digit.
#[test]
fn val_present_worth_examples() {
    let worth = |first: f64, yearly: f64, rate: f64, years: u32| {
        let items = vec![
            CostItem::once("first cost", Category::Investment, money(first), YearsAfterBase::BASE),
            CostItem::annual("each year", Category::Maintenance, money(yearly)),
        ];
        known(&cost_of("technology", items, study(rate, years)).total)
    };
    for (first, revenue, present) in
        [(1.2e6, 4e5, 476_988.83), (2.0e6, 6e5, 515_483.25), (1.8e6, 5e5, 296_236.04)]
    {
        close(-worth(first, -revenue, 0.20, 10), present, 0.005);
    }
    close(worth(450e3, 27_000.0, 0.15, 15), 607_878.99, 0.005);
    close(worth(540e3, 28_500.0, 0.15, 15), 706_650.05, 0.005);
}

fn two_designs(energy_escalation: &Escalation) -> (LifeCycleCost, LifeCycleCost) {
    let design = |name: &str, numbers: [f64; 5]| {
        let [first, replacement, residual, energy, upkeep] = numbers;
        let items = vec![
            CostItem::once("first cost", Category::Investment, money(first), YearsAfterBase::BASE),
            CostItem::once("replacement", Category::Replacement, money(replacement), at(12.0)),
            CostItem::once("residual", Category::Residual, money(residual), at(20.0)),
            CostItem::annual("energy", Category::Energy, money(energy)).escalating(energy_escalation.clone()),
            CostItem::annual("upkeep", Category::Maintenance, money(upkeep)),
        ];
        cost_of(name, items, study(0.03, 20))
    };
    (design("A", [103e3, 12e3, 3500.0, 20e3, 7e3]), design("B", [110e3, 12_500.0, 3700.0, 13e3, 8e3]))
}

/// Constructed case in the layout of NIST Handbook 135, recomputed outside the program; no published source.
/// Tolerance: half the last digit.
#[test]
fn val_two_designs() {
    let (a, b) = two_designs(&Escalation::None);
    close(known(&a.total), 511_170.51, 0.005);
    close(known(&b.total), 429_145.62, 0.005);
    let c = comparison(&a, &b);
    close(c.net_savings.value(), 82_024.89, 0.01);
    close(c.savings_to_investment.value().unwrap(), 12.32948, 0.5e-5);
    close(c.adjusted_internal_rate_of_return.value().unwrap(), 0.167843, 0.5e-6);
    assert!(matches!(c.discounted_payback, Payback::InYear { year: 2, lasting: Lasting::ToTheEnd, .. }));
    // 7000 more at first, 6000 less each year: in the second year, after 7/6 of a year.
    let Payback::InYear { year: 2, years, .. } = c.simple_payback else { panic!("{:?}", c.simple_payback) };
    close(years, 7.0 / 6.0, 1e-12);
    let (a, b) = two_designs(&Escalation::Constant(e(0.01)));
    close(known(&a.total), 541_275.48, 0.005);
    close(known(&b.total), 448_713.85, 0.005);
    close(comparison(&a, &b).net_savings.value(), 92_561.63, 0.01);
}

/// The measures are three ways to say the same; the running sum ends at the net savings. Tolerance: rounding.
#[test]
fn xchk_measures_agree() {
    let (a, b) = two_designs(&Escalation::ByYear((0..20).map(|y| e(0.03 - 0.002 * f64::from(y))).collect()));
    let c = comparison(&a, &b);
    close(c.operating_savings.value() - c.added_investment.value(), c.net_savings.value(), 1e-8);
    close(c.years.last().unwrap().discounted_sum.value(), c.net_savings.value(), 1e-8);
    assert_eq!(c.years.len(), 21);
    let payment = known(&a.annual_equivalent);
    close(payment * uniform_present_value(d(0.03), n(20)), known(&a.total), 1e-8);
    close(known(&a.side(Side::Operation)) + known(&a.side(Side::Investment)), known(&a.total), 1e-8);
}

#[test]
fn phys_nothing_is_paid_back_without_added_investment() {
    let (a, b) = two_designs(&Escalation::None);
    let same = comparison(&a, &a);
    assert_eq!(same.discounted_payback, Payback::NothingToPayBack);
    assert_eq!(same.savings_to_investment, Measure::NoAddedInvestment);
    // Back from B to A: less at first, more each year, and that is never made up.
    let back = comparison(&b, &a);
    assert_eq!(back.savings_to_investment, Measure::NoAddedInvestment);
    assert!(matches!(back.discounted_payback, Payback::NotWithinStudy { .. }));
}

#[test]
fn phys_costs_in_another_order_change_no_measure() {
    let s = study(0.03, 5);
    let items = |order: [usize; 3]| {
        let all = [0.1, 0.2, 0.3];
        order
            .map(|i| CostItem::once("part", Category::Investment, money(all[i]), YearsAfterBase::BASE))
            .to_vec()
    };
    let c = comparison(&cost_of("a", items([0, 1, 2]), s), &cost_of("b", items([2, 1, 0]), s));
    assert_eq!(c.savings_to_investment, Measure::NoAddedInvestment);
    assert_eq!(c.simple_payback, Payback::NothingToPayBack);
}

#[test]
fn phys_a_later_replacement_may_take_payback_away() {
    let s = study(0.03, 10);
    let base = cost_of("base", vec![CostItem::annual("energy", Category::Energy, money(100.0))], s);
    let other = cost_of(
        "other",
        vec![
            CostItem::once("plant", Category::Investment, money(250.0), YearsAfterBase::BASE),
            CostItem::once("new fan", Category::Replacement, money(500.0), at(5.0)),
        ],
        s,
    );
    let c = comparison(&base, &other);
    // 250 after 2.5 years of 100; 500 in year 5 against 250 saved beyond; 0 net at the end of year 7.5.
    let Payback::InYear { year: 3, years, lasting: Lasting::LostInYear(5) } = c.simple_payback else {
        panic!("{:?}", c.simple_payback)
    };
    close(years, 2.5, 1e-12);
}

#[test]
fn phys_savings_below_zero_have_no_rate_of_return() {
    let s = study(0.03, 10);
    let base = cost_of("base", vec![CostItem::annual("energy", Category::Energy, money(100.0))], s);
    let worse = cost_of(
        "worse",
        vec![
            CostItem::once("plant", Category::Investment, money(250.0), YearsAfterBase::BASE),
            CostItem::annual("energy", Category::Energy, money(110.0)),
        ],
        s,
    );
    let c = comparison(&base, &worse);
    assert!(c.savings_to_investment.value().unwrap() < 0.0);
    assert_eq!(c.adjusted_internal_rate_of_return, Measure::NoSavings);
}

#[test]
fn phys_what_has_no_price_is_listed_once_and_never_zero() {
    let s = study(0.03, 20);
    let items = vec![
        CostItem::annual("energy", Category::Energy, money(100.0)),
        CostItem::annual("upkeep", Category::Maintenance, Priced::not_priced("upkeep")),
        CostItem::once("ducts", Category::Investment, Priced::not_priced("ducts"), YearsAfterBase::BASE),
        CostItem::once("ducts", Category::Residual, Priced::not_priced("ducts"), at(20.0)),
    ];
    let cost = cost_of("plan", items, s);
    assert_eq!(cost.total.missing(), ["ducts", "upkeep"]);
    assert_eq!(cost.annual_equivalent.missing(), ["ducts", "upkeep"]);
    close(cost.known.value(), 100.0 * uniform_present_value(d(0.03), n(20)), 1e-9);
    assert!(cost.categories[3].total.known().is_some() && cost.categories[0].total.known().is_none());
    let base = cost_of("base", vec![CostItem::annual("energy", Category::Energy, money(150.0))], s);
    assert_eq!(compare(&base, &cost).unwrap().missing(), ["plan: ducts", "plan: upkeep"]);
}

#[test]
fn phys_dates_within_the_year_move_the_discount_only() {
    let s = study(0.05, 10);
    let yearly = |timing| {
        let item = CostItem::annual("energy", Category::Energy, money(1.0))
            .falling(When::EachYear(timing))
            .escalating(Escalation::Constant(e(0.02)));
        known(&cost_of("a", vec![item], s).total)
    };
    let end = yearly(Timing::EndOfYear);
    close(end, escalating_present_value(d(0.05), e(0.02), n(10)), 1e-12);
    close(yearly(Timing::MiddleOfYear), end * 1.05f64.sqrt(), 1e-12);
    close(yearly(Timing::BeginningOfYear), end * 1.05, 1e-12);
    close(yearly(Timing::After(drycoil_units::Fraction::ratio(0.25))), end * 1.05f64.powf(0.75), 1e-12);
}

#[test]
fn phys_lists_of_prices_compound_and_indices_are_taken_as_given() {
    let rates = Escalation::ByYear(vec![e(0.1), e(-0.5), e(0.0)]);
    let found = rates.indices(3).unwrap();
    for (found, expected) in found.iter().zip([1.1, 0.55, 0.55]) {
        close(*found, expected, 1e-15);
    }
    assert_eq!(Escalation::Index(vec![1.1, 0.55, 0.55]).indices(2).unwrap(), [1.1, 0.55]);
    let series = series_present_value(d(0.0), &rates, n(3)).unwrap();
    close(series.factor, 2.2, 1e-15);
}

#[test]
fn refusals() {
    let s = study(0.03, 20);
    let refused = |item: CostItem| {
        life_cycle_cost(&Alternative { name: "a".into(), costs: vec![item] }, s).unwrap_err().to_string()
    };
    let late = CostItem::once("fan", Category::Replacement, money(1.0), at(20.5));
    assert_eq!(refused(late), "`fan` falls 20.5 years after the base date; the study ends after 20");
    let energy = || CostItem::annual("energy", Category::Energy, money(1.0));
    let years = |first, last| When::Years { first, last, timing: Timing::EndOfYear };
    assert!(refused(energy().falling(years(0, 3))).contains("from year 0 to year 3"));
    assert!(refused(energy().falling(years(4, 3))).contains("from year 4 to year 3"));
    assert!(refused(energy().falling(years(4, 21))).contains("21 years"));
    assert!(refused(energy().escalating(Escalation::ByYear(vec![e(0.01); 19]))).contains("19 years"));
    assert!(refused(energy().escalating(Escalation::Index(vec![0.0; 20]))).contains("price index 0"));
    assert!(refused(CostItem::annual(" ", Category::Energy, money(1.0))).contains("no name"));
    assert!(refused(CostItem::annual("x", Category::Energy, money(f64::NAN))).contains("NaN"));
    let share = Timing::After(drycoil_units::Fraction::ratio(1.5));
    assert!(refused(energy().falling(When::EachYear(share))).contains("share of the year 1.5"));
    assert!(DiscountRate::per_year(3.0).is_err() && EscalationRate::per_year(f64::NAN).is_err());
    assert!(YearCount::new(0).is_err() && YearsAfterBase::new(-1.0).is_err());
    let other = cost_of("b", vec![energy()], study(0.04, 20));
    let error = compare(&cost_of("a", vec![energy()], s), &other).unwrap_err();
    assert!(error.to_string().contains("0.03 over 20 years against 0.04"), "{error}");
}

proptest! {
    /// Closed forms against the sum of the payments. Tolerance: rounding over 60 terms.
    #[test]
    fn xchk_factors_are_sums_of_payments(rate in -0.1..0.4f64, rise in -0.2..0.3f64, years in 1..60u32) {
        let uniform: f64 = (1..=years).map(|t| (1.0 + rate).powi(-t.cast_signed())).sum();
        let found = uniform_present_value(d(rate), n(years));
        prop_assert!((found - uniform).abs() <= 1e-11 * uniform, "{found} {uniform}");
        let ratio: f64 = (1.0 + rise) / (1.0 + rate);
        let rising: f64 = (1..=years).map(|t| ratio.powi(t.cast_signed())).sum();
        let found = escalating_present_value(d(rate), e(rise), n(years));
        prop_assert!((found - rising).abs() <= 1e-11 * rising, "{found} {rising}");
        let series = series_present_value(d(rate), &Escalation::Constant(e(rise)), n(years)).unwrap();
        prop_assert!((series.factor - rising).abs() <= 1e-11 * rising);
        let list = Escalation::ByYear(vec![e(rise); years as usize]);
        let series = series_present_value(d(rate), &list, n(years)).unwrap();
        prop_assert!((series.factor - rising).abs() <= 1e-11 * rising);
    }

    /// The limit d = e is approached without a jump: the factor differs from n by n (n+1) / 2 times the net rate, to
    /// second order.
    #[test]
    fn phys_the_limit_of_equal_rates_is_continuous(rate in 0.0..0.2f64, power in -15.0..-4.0f64, years in 1..60u32) {
        let gap = 10f64.powf(power);
        let (d, e) = (d(rate + gap), e(rate));
        let net = net_rate(d, e);
        let n_years = f64::from(years);
        let first_order = n_years * (1.0 - 0.5 * (n_years + 1.0) * net);
        let found = escalating_present_value(d, e, n(years));
        let second_order = n_years * (n_years + 1.0) * (n_years + 2.0) / 6.0 * net * net;
        prop_assert!((found - first_order).abs() <= second_order + 1e-12 * n_years, "{found} {first_order}");
    }

    #[test]
    fn inv_real_and_nominal_rates(real in -0.05..0.2f64, inflation in -0.02..0.2f64) {
        let inflation = InflationRate::per_year(inflation).unwrap();
        let back = d(real).with_inflation(inflation).unwrap().without_inflation(inflation).unwrap();
        prop_assert!((back.share() - real).abs() < 1e-14);
    }

    /// Money lent at the first and saved each year: every measure turns at the same point, and payback is no earlier
    /// when discounted.
    #[test]
    fn phys_measures_and_payback_are_consistent(
        first in 1.0..1e5f64, saved in 1.0..1e4f64, rate in 0.0..0.2f64, years in 1..40u32,
    ) {
        let s = study(rate, years);
        let base = cost_of("base", vec![CostItem::annual("energy", Category::Energy, money(saved))], s);
        let other = cost_of(
            "other",
            vec![CostItem::once("plant", Category::Investment, money(first), YearsAfterBase::BASE)],
            s,
        );
        let c = comparison(&base, &other);
        let net = c.net_savings.value();
        prop_assume!(net.abs() > 1e-6 * first);
        let ratio = c.savings_to_investment.value().unwrap();
        let irr = c.adjusted_internal_rate_of_return.value().unwrap();
        prop_assert_eq!(net > 0.0, ratio > 1.0);
        prop_assert_eq!(net > 0.0, irr > rate);
        prop_assert!(((1.0 + irr).powi(years.cast_signed()) * first / (saved * uniform_present_value(d(rate), n(years))
            * (1.0 + rate).powi(years.cast_signed())) - 1.0).abs() < 1e-9);
        match c.discounted_payback {
            Payback::InYear { year, years: when, lasting } => {
                prop_assert!(net > 0.0 && lasting == Lasting::ToTheEnd);
                prop_assert!(when <= f64::from(year) && when >= f64::from(year) - 1.0);
                let Payback::InYear { year: simple, years: simple_when, .. } = c.simple_payback else {
                    return Err(TestCaseError::fail("simple payback later than discounted"));
                };
                prop_assert!(simple <= year && simple_when <= when + 1e-9);
                prop_assert!((simple_when - first / saved).abs() < 1e-6);
                // At the end of the year it is back, a year earlier it was not.
                prop_assert!(saved * uniform_present_value(d(rate), n(year)) >= first * (1.0 - 1e-9));
                if year > 1 {
                    prop_assert!(saved * uniform_present_value(d(rate), n(year - 1)) < first * (1.0 + 1e-9));
                }
            }
            Payback::NotWithinStudy { missing } => {
                prop_assert!(net < 0.0 && (missing.value() + net).abs() < 1e-6 * first);
            }
            Payback::NothingToPayBack => prop_assert!(false),
        }
    }

    /// Purchases less what is left cover exactly the study.
    #[test]
    fn phys_equipment_costs_its_share_of_lives(life in 1..50u32, years in 1..60u32) {
        let items = equipment("fan", &money(1000.0), n(life), n(years)).unwrap();
        let cost = cost_of("a", items, study(0.0, years));
        let share = 1000.0 * f64::from(years) / f64::from(life);
        prop_assert!((known(&cost.total) - share).abs() < 1e-9 * share);
    }
}
