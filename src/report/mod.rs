//! Takes parts, flats, findings and nests, gives what is said of them.
//!
//! | function | gives |
//! |---|---|
//! | [`part_result`], [`JobResult`] | figures and findings, as JSON holds them |
//! | [`cautions_of`] | the dangers that a part has, with what to do about them |
//! | [`html()`] | the report of a job, a page on its own |
//! | [`sheet_notes`], [`cutting_words`] and the like | sentences about sheets and cuts |

mod bending;
mod cautions;
mod cutting;
mod hollow;
mod html;
mod results;

pub use bending::{BrakeResult, DieResult, PracticeResult, RangeResult, StepResult, step_results};
pub use cautions::{Caution, CautionResult, caution_words, cautions_of, joined_cautions};
pub use cutting::{
    COUPON_HOLE, COUPON_SIDE, LeadInResult, LeftOverResult, SheetCutting, TestPieceResult,
    cutting_words, kerf_words, remnant_file, sheet_captions, sheet_notes, test_piece_words,
    time_words,
};
pub use hollow::{HollowResult, SeamResult, SectionResult};
pub use html::{Pictures, html};
pub use results::{
    AssumedResult, BendResult, BlankResult, CornerWeldResult, EdgeResult, FindingResult,
    FormingResult, JobResult, PartResult, PlacementResult, ReliefResult, SheetResult, StripResult,
    UnplacedResult, WarningResult, finding_result, job_finding_result, part_result,
};
