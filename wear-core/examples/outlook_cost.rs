//! What an outlook costs: bikes of all uses with none to ten readings, four hundred days of riding and an earlier chain.
//!
//! `cargo run -p wear-core --example outlook_cost -- ROUNDS` prints a sum over what was told and the milliseconds an
//! outlook took. A comparison of two versions counts instructions (`valgrind --tool=callgrind`), as those don't depend
//! on what else the machine does.

use std::time::Instant;

use wear_core::{Bike, CareKind, Drivetrain, Reading, Ride, Use};

const TODAY: i32 = 400;

fn reading(which: i32, percent: f64) -> Result<Reading, Box<dyn std::error::Error>> {
    Ok(match which % 3 {
        0 => Reading::rule(percent)?,
        1 => Reading::dial(&[percent, percent + 0.01, percent - 0.01])?,
        _ => Reading::drop_in(0.5, percent > 0.38)?,
    })
}

fn bike(which: i32, readings: i32) -> Result<Bike, Box<dyn std::error::Error>> {
    let usage = [Use::Town, Use::Road, Use::Mountain][which as usize % 3];
    let drivetrain = Drivetrain::derailleur([42], [11, 13, 15, 17, 20, 23, 26, 30], 114)?;
    let mut bike = Bike::new(drivetrain, usage);
    let km_a_day = 6.0 + f64::from(which % 5);
    for day in 0..TODAY {
        if (day + which) % 3 > 0 {
            bike.ride(day, Ride::km(km_a_day)?.wet((day * 7 + which) % 11 == 0));
        }
        if day % 17 == 16 {
            bike.care(day, CareKind::CleanedAndLubricated);
        }
    }
    let swapped = 60 + 10 * (which % 8);
    bike.swap_chain(swapped);
    for i in 0..readings {
        let day = swapped + (TODAY - swapped) * (i + 1) / readings;
        let km = f64::from(day - swapped) * km_a_day * 2.0 / 3.0;
        bike.read(day, reading(which + i, 0.07 + 0.000_17 * km)?);
    }
    Ok(bike)
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let rounds: u32 = std::env::args().nth(1).map_or(Ok(1), |given| given.parse())?;
    let mut bikes = Vec::new();
    for (i, readings) in [0, 1, 2, 3, 5, 10].into_iter().enumerate() {
        for k in 0..4 {
            bikes.push(bike(4 * i as i32 + k, readings)?);
        }
    }
    let begun = Instant::now();
    let mut told = 0.0;
    for _ in 0..rounds {
        for bike in &bikes {
            let outlook = bike.outlook(TODAY);
            told += outlook.elongation_percent.map_or(0.0, |elongation| elongation.p50);
        }
    }
    let outlooks = rounds as usize * bikes.len();
    let milliseconds = begun.elapsed().as_secs_f64() * 1e3 / outlooks as f64;
    println!("{told:.6} {milliseconds:.3}");
    Ok(())
}
