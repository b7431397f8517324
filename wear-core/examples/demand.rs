//! Reads one fleet a line, the bikes' probabilities of a swap with blanks between them, and prints the distribution of
//! the number of swaps on a line of its own, from none to all.

use std::io::BufRead as _;

use wear_core::fleet::demand::Demand;
use wear_core::units::Probability;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    for line in std::io::stdin().lock().lines() {
        let line = line?;
        let probabilities = line
            .split_whitespace()
            .map(|word| Ok(Probability::new(word.parse()?)?))
            .collect::<Result<Vec<_>, Box<dyn std::error::Error>>>()?;
        let demand = Demand::of_swaps(&probabilities);
        let masses: Vec<String> =
            (0..=probabilities.len()).map(|count| format!("{:e}", demand.probability(count))).collect();
        println!("{}", masses.join(" "));
    }
    Ok(())
}
