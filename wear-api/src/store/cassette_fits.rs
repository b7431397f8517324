//! What a workshop's cassettes taught of how much damage they bear.

use wear_core::fleet::cassettes::CassetteFit;
use wear_core::fleet::skip_record::SkipTally;

use super::error::StoreError;
use super::instant::instant;
use super::{Tx, execute, row_if_any, statements};
use crate::domain::{LearnedCassettes, Timestamp};

const TABLE: &str = "cassette_fits";

statements! {
    CLEAR = "delete from cassette_fits where workshop_id = $1";
    INSERT = "
        insert into cassette_fits (workshop_id, ln_median, ln_median_sd, sigma, sigma_sd, common_share,
            common_share_sd, cassettes, held, skipped, used_up, told_chains, told_skipped, told_sum, told_brier,
            learned_at)
        values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16)";
    GET = "
        select ln_median, ln_median_sd, sigma, sigma_sd, common_share, common_share_sd, cassettes, held, skipped,
            used_up, told_chains, told_skipped, told_sum, told_brier, learned_at
        from cassette_fits where workshop_id = $1";
}

#[derive(sqlx::FromRow)]
struct Row {
    ln_median: f64,
    ln_median_sd: f64,
    sigma: f64,
    sigma_sd: f64,
    common_share: f64,
    common_share_sd: f64,
    cassettes: i64,
    held: i64,
    skipped: i64,
    used_up: i64,
    told_chains: i64,
    told_skipped: i64,
    told_sum: f64,
    told_brier: f64,
    learned_at: i64,
}

impl TryFrom<Row> for LearnedCassettes {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row {
            ln_median,
            ln_median_sd,
            sigma,
            sigma_sd,
            common_share,
            common_share_sd,
            cassettes,
            held,
            skipped,
            used_up,
            told_chains,
            told_skipped,
            told_sum,
            told_brier,
            learned_at,
        } = row;
        let count = |count: i64| usize::try_from(count).unwrap_or_default();
        Ok(Self {
            fit: CassetteFit {
                ln_median: (ln_median, ln_median_sd),
                sigma: (sigma, sigma_sd),
                common_share: (common_share, common_share_sd),
                cassettes: count(cassettes),
                held: count(held),
                skipped: count(skipped),
                used_up: count(used_up),
            },
            told: SkipTally {
                chains: told_chains.unsigned_abs(),
                skipped: told_skipped.unsigned_abs(),
                told: told_sum,
                brier: told_brier,
            },
            learned_at: instant(learned_at, TABLE, "learned_at")?,
        })
    }
}

impl Tx {
    /// Stores what was learned, in place of what had been learned before.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn replace_cassette_fit(
        &mut self,
        learned: Option<&LearnedCassettes>,
    ) -> Result<(), StoreError> {
        execute!(self, CLEAR)?;
        let Some(learned) = learned else { return Ok(()) };
        let LearnedCassettes { fit, told, learned_at } = learned;
        let CassetteFit { ln_median, sigma, common_share, cassettes, held, skipped, used_up } = fit;
        let number = |count: usize| i64::try_from(count).unwrap_or(i64::MAX);
        let count = |count: u64| i64::try_from(count).unwrap_or(i64::MAX);
        execute!(
            self,
            INSERT,
            ln_median.0,
            ln_median.1,
            sigma.0,
            sigma.1,
            common_share.0,
            common_share.1,
            number(*cassettes),
            number(*held),
            number(*skipped),
            number(*used_up),
            count(told.chains),
            count(told.skipped),
            told.told,
            told.brier,
            Timestamp::micros(*learned_at)
        )?;
        Ok(())
    }

    /// What was learned; nothing before the first time.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn cassette_fit(&mut self) -> Result<Option<LearnedCassettes>, StoreError> {
        let row: Option<Row> = row_if_any!(self, GET)?;
        row.map(LearnedCassettes::try_from).transpose()
    }
}
