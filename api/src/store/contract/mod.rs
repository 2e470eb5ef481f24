//! What every store must do, whichever database is below. An implementation names itself once in
//! `every_store_must!`, and gets each of these as a test of its own.

pub(crate) mod access;
pub(crate) mod as_of;
pub(crate) mod edited_trackways;
pub(crate) mod edits;
pub(crate) mod extents;
pub(crate) mod histories;
pub(crate) mod job_lists;
pub(crate) mod jobs;
pub(crate) mod judgements;
pub(crate) mod moments;
pub(crate) mod prints;
pub(crate) mod proposals;
pub(crate) mod reviews;
pub(crate) mod sheets;
pub(crate) mod sites;
pub(crate) mod trackways;
pub(crate) mod world;

pub(crate) use world::World;

/// A store to be tried, and the means to open it a second time, as another program would.
pub(crate) trait Trial {
    /// The store.
    fn store(&self) -> &dyn super::Store;
    /// The same record behind connections of its own.
    fn again(&self) -> Box<dyn super::Store>;
}

/// Makes a test of each law for the trial that an expression makes, fresh for each.
macro_rules! every_store_must {
    ($fresh:expr; $($story:ident :: { $($law:ident),+ $(,)? })+) => {
        $(mod $story {
            $(#[test]
            fn $law() {
                let trial = $fresh;
                $crate::store::contract::$story::$law(&trial);
            })+
        })+
    };
    ($fresh:expr) => {
        $crate::store::contract::every_store_must! { $fresh;
            as_of::{
                a_surface_is_read_as_it_was, sites_and_counts_are_listed_as_they_were,
                a_clock_that_goes_back_loses_nothing,
            }
            edits::{
                a_print_is_made_replaced_and_removed, what_is_made_again_goes_on_counting,
                the_last_print_of_a_surface_may_go_and_come_again, nobody_overruns_what_he_has_not_seen,
                extents_and_surfaces_are_edited, what_was_made_with_a_key_is_made_once,
                of_many_who_change_a_record_at_once_none_is_lost,
            }
            edited_trackways::{
                what_others_need_stays, a_print_that_goes_leaves_the_field_partys_trackway,
                a_rejected_trackway_does_not_come_back_without_its_prints, an_editor_makes_trackways,
            }
            access::{
                a_token_reads_back_as_issued, no_token_is_issued_twice, a_revoked_token_stays_revoked,
                the_last_use_of_a_token_is_known, the_ledger_keeps_every_write_and_the_newest_refusals,
                tokens_and_ledger_are_no_change_of_the_record,
            }
            sites::{
                a_new_store_is_empty, a_site_reads_back_as_written, a_slug_is_taken_once,
                sites_come_in_order, a_site_has_a_history, a_changed_site_is_a_new_revision,
                a_site_that_does_not_differ_is_left_alone, a_site_changed_meanwhile_is_not_overwritten,
                of_two_who_change_a_site_at_once_one_is_told, an_unknown_site_is_not_changed,
                the_crs_of_a_site_stays, no_site_has_a_number_that_is_not_finite,
                a_change_of_a_site_leaves_its_surfaces_alone,
            }
            prints::{
                a_full_print_reads_back_as_written, a_bare_print_reads_back_as_written,
                awkward_numbers_and_texts_read_back, prints_at_one_place_are_two_prints,
                no_number_that_is_not_finite_gets_in, a_surface_without_prints_is_a_surface,
                what_is_not_there_is_none, bounds_and_counts_follow_the_prints,
            }
            histories::{
                revisions_count_up_and_none_is_lost, a_surface_keeps_its_revisions,
                an_extent_keeps_its_revisions, an_unknown_record_has_no_history,
            }
            sheets::{
                a_sheet_twice_changes_nothing, a_changed_row_is_a_new_revision,
                a_label_twice_is_found_in_every_case, an_unknown_print_below_is_found,
                a_print_may_overlie_a_later_row, a_dropped_sheet_leaves_nothing,
                a_refused_sheet_leaves_nothing, a_sheet_of_no_site_is_not_begun,
                a_sheet_may_speak_of_many_surfaces, an_empty_sheet_changes_nothing,
                a_surface_with_a_record_is_put_before_its_prints,
            }
            extents::{
                an_extent_with_holes_reads_back_as_written, extents_are_counted_and_boxed,
                an_extent_twice_is_found, an_extent_at_infinity_is_refused,
            }
            trackways::{
                prints_make_a_trackway_in_walking_order, a_neighbour_is_left_alone,
                a_trackway_without_prints_is_rejected_and_comes_back,
                one_place_for_two_prints_is_found, proposals_give_way_to_the_field,
                a_history_of_a_trackway_is_whole,
            }
            proposals::{
                proposals_get_the_next_free_labels, the_same_proposals_change_nothing,
                a_proposal_that_differs_is_a_new_revision, what_is_not_proposed_again_is_rejected,
                a_proposal_needs_its_surface_and_its_prints, field_trackways_are_not_touched,
                no_proposals_on_an_empty_surface,
            }
            judgements::{
                an_accepted_proposal_keeps_where_it_comes_from, what_was_judged_is_not_proposed_again,
                a_trackway_judged_meanwhile_is_not_judged_again, a_print_is_accepted_in_one_trackway,
                judged_twice_is_judged_once, an_unknown_trackway_is_not_judged,
            }
            jobs::{
                a_job_reads_back_as_it_came, a_job_goes_its_way, jobs_are_taken_in_the_order_in_which_they_came,
                workers_at_once_take_each_job_once, who_has_lost_the_lease_cannot_finish,
                a_sign_of_life_begins_the_lease_anew, a_job_that_kills_its_workers_is_set_aside,
                a_job_given_back_comes_again, what_is_called_off_is_not_finished,
                jobs_do_not_move_the_mark,
            }
            job_lists::{
                what_has_ended_is_removed_in_time, a_list_of_jobs_is_filtered_and_paged,
                an_asker_has_only_so_many_jobs_waiting, the_last_jobs_of_an_asker_are_kept,
            }
            reviews::{
                a_surface_is_reviewed_once_for_each_revision, schedulers_at_once_review_a_surface_once,
            }
            moments::{
                a_reader_sees_the_last_commit_while_a_sheet_is_open,
                the_second_writer_waits_and_then_writes, readers_never_see_half_a_sheet,
                the_mark_moves_with_every_commit, the_mark_sees_another_program,
                another_program_sees_what_was_taken,
            }
        }
    };
}
pub(crate) use every_store_must;
