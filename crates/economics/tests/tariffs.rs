//! Tariffs and emissions.

use drycoil_economics::*;
use drycoil_units::{Energy, EnergyPrice, Fraction, Power, Quantity, Time};
use proptest::prelude::*;

fn per_kwh(price: f64) -> Priced<EnergyPrice> {
    Priced::Known(EnergyPrice::per_kwh(price))
}

fn kwh(energy: f64) -> Energy {
    Energy::kilowatt_hours(energy)
}

fn hours() -> Calendar {
    Calendar::of_year(YearKind::Common, Weekday::Monday, &[(1, 1), (7, 4), (12, 25)], Time::hours(1.0))
        .unwrap()
}

fn tariff(charges: Vec<Charge>) -> Tariff {
    Tariff { name: "electricity".into(), charges }
}

fn bill(charges: Vec<Charge>, calendar: &Calendar, energy: &[Energy]) -> Bill {
    TariffOnCalendar::new(&tariff(charges), calendar).unwrap().bill(energy).unwrap()
}

fn refused(charge: Charge, calendar: &Calendar) -> String {
    TariffOnCalendar::new(&tariff(vec![charge]), calendar).unwrap_err().to_string()
}

fn summer_peak() -> Window {
    Window {
        months: Months::from_to(6, 9).unwrap(),
        days: DayTypes::WORKDAYS,
        hours: Hours::from_to(14, 20).unwrap(),
    }
}

fn time_of_use(peak: Priced<EnergyPrice>, rest: Priced<EnergyPrice>) -> Charge {
    let periods = vec![
        Period { name: "peak".into(), times: Times::Within(vec![summer_peak()]), price: peak },
        Period { name: "off peak".into(), times: Times::Otherwise, price: rest },
    ];
    Charge { name: "energy".into(), kind: ChargeKind::Energy(periods) }
}

fn demand(ratchet: Option<Ratchet>, window: Window, average_over: Time) -> Charge {
    let price = Priced::Known(DemandPrice::per_kw_month(10.0));
    Charge {
        name: "demand".into(),
        kind: ChargeKind::Demand(Demand { window, average_over, price, minimum: None, ratchet }),
    }
}

fn known(priced: &Priced<Money>) -> f64 {
    priced.known().unwrap().value()
}

/// Counted by hand: 365 days from a Monday hold 52 Saturdays and 52 Sundays; of the three holidays 1 January is a
/// Monday, 4 July a Wednesday, 25 December a Tuesday.
#[test]
fn phys_a_year_has_its_days() {
    let year = hours();
    let count = |kind| year.stamps().iter().filter(|s| s.day_type() == kind).count() / 24;
    assert_eq!(count(DayType::Saturday), 52);
    assert_eq!(count(DayType::Sunday), 52);
    assert_eq!(count(DayType::Holiday), 3);
    assert_eq!(count(DayType::Workday), 258);
    let leap = Calendar::of_year(YearKind::Leap, Weekday::Sunday, &[(2, 29)], Time::seconds(900.0)).unwrap();
    assert_eq!(leap.len(), 8784 * 4);
    assert_eq!(leap.months()[1].intervals.len(), 29 * 96);
}

/// By hand: June to September of that year has 122 days, 85 of them workdays that are no holiday, with six hours each.
#[test]
fn phys_time_of_use_by_hand() {
    let year = hours();
    let found = bill(vec![time_of_use(per_kwh(0.3), per_kwh(0.1))], &year, &vec![kwh(2.0); 8760]);
    let peak_hours = summer_peak_workdays() * 6.0;
    let expected = 2.0 * (peak_hours * 0.3 + (8760.0 - peak_hours) * 0.1);
    assert!((known(&found.total) - expected).abs() < 1e-8, "{} {expected}", known(&found.total));
    assert_eq!(found.months[0].lines.len(), 1);
    assert_eq!(found.months[6].lines.len(), 2);
    let mean = found.mean_energy_price().unwrap();
    assert!((mean.known().unwrap().to_per_kwh() - expected / 17520.0).abs() < 1e-12);
}

/// 1 June 2018, like every year that begins on a Monday, is a Friday: June 21, July 22 less one holiday, August 23,
/// September 20 workdays.
fn summer_peak_workdays() -> f64 {
    21.0 + 21.0 + 23.0 + 20.0
}

#[test]
fn phys_blocks_by_hand() {
    let year = hours();
    let blocks = vec![
        Block { up_to: Some(kwh(500.0)), price: per_kwh(0.20) },
        Block { up_to: Some(kwh(700.0)), price: per_kwh(0.15) },
        Block { up_to: None, price: per_kwh(0.10) },
    ];
    let charge = Charge { name: "energy".into(), kind: ChargeKind::Blocks(blocks) };
    let found = bill(vec![charge], &year, &vec![kwh(1.0); 8760]);
    // January has 744 kWh, February 672.
    assert!((known(&found.months[0].total) - (100.0 + 30.0 + 4.4)).abs() < 1e-9);
    assert!((known(&found.months[1].total) - (100.0 + 172.0 * 0.15)).abs() < 1e-9);
}

/// A series with one peak hour a month, of the power given.
fn peaks(calendar: &Calendar, kw: [f64; 12]) -> Vec<Energy> {
    let mut energy = vec![kwh(1.0); calendar.len()];
    for (month, kw) in calendar.months().iter().zip(kw) {
        // 15 h on the second day, so that no month begins with it.
        energy[month.intervals.start + 24 + 15] = kwh(kw);
    }
    energy
}

fn billed_kw(bill: &Bill) -> Vec<f64> {
    let of = |month: &MonthBill| match &month.lines[0].billed {
        Billed::Demand { billed, .. } => billed.to_watts() / 1000.0,
        other => panic!("{other:?}"),
    };
    bill.months.iter().map(of).collect()
}

#[test]
fn phys_a_ratchet_holds_a_share_of_the_summer_peak() {
    let year = hours();
    let kw = [20.0, 20.0, 30.0, 40.0, 60.0, 90.0, 100.0, 95.0, 70.0, 85.0, 30.0, 20.0];
    let energy = peaks(&year, kw);
    let close = |found: Vec<f64>, expected: [f64; 12]| {
        for (f, e) in found.iter().zip(expected) {
            assert!((f - e).abs() < 1e-9, "{found:?} {expected:?}");
        }
    };
    let hour = Time::hours(1.0);
    close(billed_kw(&bill(vec![demand(None, Window::ALWAYS, hour)], &year, &energy)), kw);
    let ratchet = |before| Ratchet {
        share: Fraction::ratio(0.8),
        look_back: 11,
        set_in: Months::from_to(6, 9).unwrap(),
        before,
    };
    let with =
        |before| billed_kw(&bill(vec![demand(Some(ratchet(before)), Window::ALWAYS, hour)], &year, &energy));
    // 80 % of 100 kW all year; July looks back on the summer before without its own July, so on 95 kW.
    close(with(Before::SameYear), [80.0, 80.0, 80.0, 80.0, 80.0, 90.0, 100.0, 95.0, 80.0, 85.0, 80.0, 80.0]);
    close(with(Before::Nothing), [20.0, 20.0, 30.0, 40.0, 60.0, 90.0, 100.0, 95.0, 80.0, 85.0, 80.0, 80.0]);
    close(
        with(Before::Peak(Power::watts(150e3))),
        [120.0, 120.0, 120.0, 120.0, 120.0, 120.0, 120.0, 120.0, 120.0, 120.0, 120.0, 80.0],
    );
    let short = Ratchet { look_back: 2, ..ratchet(Before::SameYear) };
    close(
        billed_kw(&bill(vec![demand(Some(short), Window::ALWAYS, hour)], &year, &energy)),
        [20.0, 20.0, 30.0, 40.0, 60.0, 90.0, 100.0, 95.0, 80.0, 85.0, 56.0, 20.0],
    );
}

#[test]
fn phys_a_minimum_is_billed_and_a_seasonal_demand_only_in_its_season() {
    let year = hours();
    let price = Priced::Known(DemandPrice::per_kw_month(10.0));
    let kind = ChargeKind::Demand(Demand {
        window: summer_peak(),
        average_over: Time::hours(1.0),
        price,
        minimum: Some(Power::watts(50e3)),
        ratchet: None,
    });
    let found = bill(vec![Charge { name: "demand".into(), kind }], &year, &peaks(&year, [90.0; 12]));
    let lines: Vec<usize> = found.months.iter().map(|m| m.lines.len()).collect();
    assert_eq!(lines, [0, 0, 0, 0, 0, 1, 1, 1, 1, 0, 0, 0]);
    // The second day of June is a Saturday and outside the window; of July, a Monday, inside; of August a Thursday; of
    // September a Sunday.
    let amounts: Vec<f64> = found.months[5..9].iter().map(|m| known(&m.total)).collect();
    for (found, expected) in amounts.iter().zip([500.0, 900.0, 900.0, 500.0]) {
        assert!((found - expected).abs() < 1e-9, "{amounts:?}");
    }
}

#[test]
fn phys_a_quarter_hour_peak_is_averaged_over_the_interval_of_the_tariff() {
    let year = Calendar::of_year(YearKind::Common, Weekday::Monday, &[], Time::seconds(900.0)).unwrap();
    let mut energy = vec![kwh(1.0); year.len()];
    energy[101] = kwh(5.0);
    let of = |average| {
        let found = bill(vec![demand(None, Window::ALWAYS, average)], &year, &energy);
        let Billed::Demand { peak, peak_at, .. } = found.months[0].lines[0].billed else { panic!() };
        (peak.to_watts() / 1000.0, peak_at)
    };
    let close = |(kw, at): (f64, usize), expected: f64, expected_at| {
        assert!((kw - expected).abs() < 1e-9 && at == expected_at, "{kw} at {at}");
    };
    close(of(Time::seconds(900.0)), 20.0, 101);
    close(of(Time::seconds(1800.0)), 12.0, 100);
    close(of(Time::hours(1.0)), 8.0, 100);
}

#[test]
fn phys_unpriced_parts_of_a_tariff_are_named() {
    let year = hours();
    let charges = vec![
        time_of_use(Priced::not_priced("x"), per_kwh(0.1)),
        Charge::monthly("meter", Priced::not_priced("x")),
    ];
    let found = bill(charges, &year, &vec![kwh(1.0); 8760]);
    assert_eq!(found.total.missing(), ["electricity: meter", "electricity: energy, peak"]);
    let peak_hours = summer_peak_workdays() * 6.0;
    assert!((found.known.value() - (8760.0 - peak_hours) * 0.1).abs() < 1e-8);
    assert_eq!(found.of_charge(1).0, Money::ZERO);
    assert!(found.of_charge(1).1.known().is_none());
}

#[test]
fn refusals() {
    let year = hours();
    let window = summer_peak();
    let within = |name: &str, window| Period {
        name: name.into(),
        times: Times::Within(vec![window]),
        price: per_kwh(0.1),
    };
    let energy = |periods| Charge { name: "energy".into(), kind: ChargeKind::Energy(periods) };
    assert_eq!(
        refused(energy(vec![within("peak", window)]), &year),
        "`energy` has no price for interval 0 (month 1, holiday, hour 0)"
    );
    let twice = refused(energy(vec![within("all", Window::ALWAYS), within("peak", window)]), &year);
    assert!(twice.contains("`all` and `peak` both price interval"), "{twice}");
    let rest = |name: &str| Period { name: name.into(), times: Times::Otherwise, price: per_kwh(0.1) };
    assert!(refused(energy(vec![rest("a"), rest("b")]), &year).contains("both price"));
    let blocks = |ends: &[Option<f64>]| Charge {
        name: "energy".into(),
        kind: ChargeKind::Blocks(
            ends.iter().map(|e| Block { up_to: e.map(kwh), price: per_kwh(0.1) }).collect(),
        ),
    };
    assert!(refused(blocks(&[]), &year).contains("there is none"));
    assert!(refused(blocks(&[Some(5.0)]), &year).contains("no price"));
    assert!(refused(blocks(&[None, None]), &year).contains("only the last block is open"));
    assert!(refused(blocks(&[Some(5.0), Some(5.0), None]), &year).contains("block 2"));
    let quarter = Time::seconds(900.0);
    assert!(refused(demand(None, Window::ALWAYS, quarter), &year).contains("900 s"));
    let stamps = year.stamps()[..31 * 24].to_vec();
    let january = Calendar::new(Time::hours(1.0), stamps.clone()).unwrap();
    let ratchet = |before, share| {
        demand(
            Some(Ratchet { share: Fraction::ratio(share), look_back: 11, set_in: Months::ALL, before }),
            Window::ALWAYS,
            Time::hours(1.0),
        )
    };
    assert!(refused(ratchet(Before::SameYear, 0.8), &january).contains("has 1"));
    assert!(refused(ratchet(Before::Nothing, 1.8), &january).contains("ratchet share 1.8"));
    assert!(refused(Charge::flat("energy", per_kwh(f64::NAN)), &year).contains("NaN"));
    assert!(refused(Charge::flat("", per_kwh(0.1)), &year).contains("no name"));
    // Quarter hours that begin at a quarter past: the first hour is not whole.
    let mut shifted = vec![stamps[0]; 3];
    shifted.extend([stamps[1]; 4]);
    let shifted = Calendar::new(quarter, shifted).unwrap();
    assert!(refused(demand(None, Window::ALWAYS, Time::hours(1.0)), &shifted).contains("interval 0"));

    let all = tariff(vec![Charge::flat("energy", per_kwh(0.1))]);
    let laid = TariffOnCalendar::new(&all, &january).unwrap();
    assert!(laid.bill(&[kwh(1.0); 3]).unwrap_err().to_string().contains("3 values for 744"));
    let mut bad = vec![kwh(1.0); 744];
    bad[7] = kwh(-1.0);
    assert!(laid.bill(&bad).unwrap_err().to_string().contains("interval 7 is -3600000 J"));

    assert!(Calendar::new(Time::hours(1.0), vec![]).is_err());
    assert!(Calendar::new(Time::seconds(1000.0), stamps.clone()).is_err());
    assert!(Calendar::new(Time::hours(2.0), stamps.clone()).is_err());
    let mut again = stamps;
    again.push(Stamp::new(2, DayType::Workday, 0).unwrap());
    again.push(Stamp::new(1, DayType::Workday, 1).unwrap());
    let error = Calendar::new(Time::hours(1.0), again).unwrap_err();
    assert_eq!(error, EconomicsError::MonthReturns { month: 1, index: 745 });
    let leap_day = Calendar::of_year(YearKind::Common, Weekday::Monday, &[(2, 29)], Time::hours(1.0));
    assert_eq!(leap_day.unwrap_err(), EconomicsError::NoSuchDate { month: 2, day: 29 });
    assert!(Stamp::new(13, DayType::Workday, 0).is_err() && Stamp::new(1, DayType::Workday, 24).is_err());
    assert!(
        Hours::from_to(5, 5).is_err() && Hours::from_to(0, 25).is_err() && Months::from_to(0, 3).is_err()
    );
    assert!(Hours::from_to(22, 6).unwrap().has(23) && !Hours::from_to(22, 6).unwrap().has(6));
    assert_eq!(Hours::from_to(0, 24).unwrap(), Hours::ALL);
    assert_eq!(Months::from_to(1, 12).unwrap(), Months::ALL);
    assert!(DayTypes::of(&[DayType::Sunday]).has(DayType::Sunday));
}

/// By hand: 24 h of 1 kWh in January at 1 kg/kWh, except 5 kg/kWh from 13 to 14 h.
#[test]
fn phys_emissions_by_the_hour() {
    let year = hours();
    let day = Calendar::new(Time::hours(1.0), year.stamps()[..24].to_vec()).unwrap();
    let mut table = [[EmissionFactor::per_kwh(1.0).unwrap(); 24]; 12];
    table[0][13] = EmissionFactor::per_kwh(5.0).unwrap();
    let rate = EmissionRate::by_month_and_hour(&day, &table);
    let used = [kwh(1.0); 24];
    let found = emissions(&[CarrierUse { carrier: "electricity", energy: &used, rate: &rate }]).unwrap();
    assert!((found.total.unwrap().to_kilograms() - 28.0).abs() < 1e-12);
    let short = CarrierUse { carrier: "electricity", energy: &used[1..], rate: &rate };
    assert!(emissions(&[short]).unwrap_err().to_string().contains("24 values for 23"));
    assert!(EmissionFactor::per_kwh(f64::INFINITY).is_err());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// What is billed by period or block adds up to the energy of the month, and that to the energy of the series.
    #[test]
    fn phys_tariffs_conserve_energy(
        seed in prop::collection::vec(0.0..500.0f64, 97), ends in prop::collection::vec(1.0..2e5f64, 1..4),
    ) {
        let year = hours();
        let energy: Vec<Energy> = (0..8760).map(|i| kwh(seed[i * 31 % 97])).collect();
        let mut ends = ends;
        ends.sort_by(f64::total_cmp);
        ends.dedup();
        let mut blocks: Vec<Block> =
            ends.iter().map(|e| Block { up_to: Some(kwh(*e)), price: per_kwh(0.1) }).collect();
        blocks.push(Block { up_to: None, price: per_kwh(0.1) });
        let charges = vec![
            time_of_use(per_kwh(0.1), per_kwh(0.1)),
            Charge { name: "blocks".into(), kind: ChargeKind::Blocks(blocks) },
            Charge::flat("flat", per_kwh(0.1)),
        ];
        let found = bill(charges, &year, &energy);
        let total: f64 = energy.iter().map(|e| e.si()).sum();
        // Rounding of sums of 8760 numbers in another order.
        prop_assert!((found.energy.si() - total).abs() <= 1e-11 * total);
        for month in &found.months {
            for charge in 0..3 {
                let sum: f64 = month.lines.iter().filter(|l| l.charge == charge).map(|l| match &l.billed {
                    Billed::Energy { energy, .. } => energy.si(),
                    other => panic!("{other:?}"),
                }).sum();
                prop_assert!((sum - month.energy.si()).abs() <= 1e-11 * total, "charge {}", charge);
            }
        }
        // The same price three ways.
        for charge in 0..3 {
            let money = known(&found.of_charge(charge).1);
            prop_assert!((money - 0.1 * total / 3.6e6).abs() <= 1e-10 * money);
        }
    }

    /// A ratchet never lowers a bill, and a larger share never either; nothing is billed below the peak, nor above the
    /// highest peak of the year.
    #[test]
    fn phys_a_ratchet_only_raises(
        kw in prop::array::uniform12(2.0..200.0f64), share in 0.0..1.0f64, look_back in 1..12u8,
    ) {
        let year = hours();
        let energy = peaks(&year, kw);
        let of = |share: f64| {
            let r = Ratchet { share: Fraction::ratio(share), look_back, set_in: Months::ALL, before: Before::SameYear };
            billed_kw(&bill(vec![demand(Some(r), Window::ALWAYS, Time::hours(1.0))], &year, &energy))
        };
        let highest = kw.iter().copied().fold(0.0, f64::max);
        for ((low, high), peak) in of(share * 0.5).iter().zip(of(share)).zip(kw) {
            prop_assert!(*low >= peak - 1e-9 && high >= *low - 1e-9 && high <= highest + 1e-9);
        }
    }
}
