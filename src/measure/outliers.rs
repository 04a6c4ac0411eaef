//! Which of some figures stands far from the others, told by a rule that the figure itself hardly moves.
//!
//! Source: B. Iglewicz and D. C. Hoaglin, How to Detect and Handle Outliers, ASQC Basic References in Quality Control 16,
//! 1993: the modified z-score 0.6745 (x - median) / MAD, an outlier above 3.5; as in the NIST/SEMATECH e-Handbook of
//! Statistical Methods, 1.3.5.17. Must not be here: what is measured.

use super::robust::{median, sigma};

/// The modified z-score above which a figure is an outlier: the source above.
pub const FAR: f64 = 3.5;

/// Of fewer figures none is told from the others: with four the middle two decide all.
pub const LEAST: usize = 5;

/// Whether each figure is an outlier. `resolution`: the smallest difference that the way of measuring tells apart; the
/// spread counts as no less than that of such steps, as figures that come in steps often are all the same but one.
///
/// Source of the spread of a step, a / sqrt(12): JCGM 100:2008, 4.3.7.
#[must_use]
pub fn outliers(figures: &[f64], resolution: f64) -> Vec<bool> {
    let spread = sigma(figures).map(|sigma| sigma.max(resolution / 12.0_f64.sqrt()));
    let finite = figures.iter().filter(|figure| figure.is_finite()).count();
    let (Some(middle), Some(spread), true) = (median(figures), spread, finite >= LEAST) else {
        return vec![false; figures.len()];
    };
    // 0.6745 is the inverse of what makes the MAD a standard deviation.
    figures.iter().map(|figure| spread > 0.0 && (figure - middle).abs() / spread > FAR).collect()
}

#[cfg(test)]
mod tests {
    use super::outliers;

    /// The example of the source's rule in the NIST/SEMATECH e-Handbook's terms: by hand, median 2.2, MAD 0.15, so that
    /// 3.0 has the score 3.597 and 2.9 the score 3.148.
    #[test]
    fn the_score_is_the_sources() {
        let figures = [2.1, 2.6, 2.4, 2.5, 2.3, 2.1, 2.3, 2.6, 8.2, 8.3];
        let far = outliers(&figures, 0.0);
        assert_eq!(far, [[false; 8].as_slice(), &[true; 2]].concat());
        let with = |last: f64| outliers(&[2.05, 2.05, 2.1, 2.2, 2.2, 2.3, 2.35, 2.4, last], 0.0)[8];
        assert_eq!((with(3.0), with(2.9)), (true, false));
    }

    /// Steps of a search: one of them is no outlier, three are.
    #[test]
    fn figures_in_steps_are_judged_by_their_steps() {
        let with = |last: f64| outliers(&[1150.0, 1150.0, 1150.0, 1150.0, 1150.0, last], 25.0)[5];
        assert_eq!((with(1150.0), with(1175.0), with(1225.0)), (false, false, true));
    }

    #[test]
    fn of_few_or_none_nothing_is_told() {
        assert_eq!(outliers(&[1.0, 1.0, 1.0, 900.0], 0.0), [false; 4]);
        assert_eq!(outliers(&[f64::NAN, 1.0, 1.0, 1.0, 900.0], 0.0), [false; 5]);
        assert_eq!(outliers(&[3.0; 6], 0.0), [false; 6]);
        assert!(outliers(&[], 1.0).is_empty());
    }
}
