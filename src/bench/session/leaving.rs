//! What leaves a session after the script was polled: its effects, its requests, what the link makes by itself.
//!
//! Promises: each frame is judged by the interlock at the moment it leaves, whoever made it. Must not be here: that
//! judgement, and stops, which leave before.

use super::Session;
use crate::board::signals::{Outgoing, Request, Ticket};
use crate::interlock::FrameVerdict;
use crate::measure::time::Time;
use crate::seam::Effect;
use std::time::Duration;

/// Our own sign of life.
const HEARTBEAT: Duration = Duration::from_secs(1);
/// How long a frame of a change may wait for it to be sure that it may leave.
const WAITS: Duration = Duration::from_secs(2);

impl Session {
    /// Effects and requests of the script leave, each frame judged at this moment.
    pub(super) fn drain(&mut self, now: Time, act: &mut dyn FnMut(Effect)) {
        while let Some(effect) = self.bench.next_effect() {
            if matches!(effect, Effect::NotThis { .. }) {
                self.link.reset();
            }
            act(effect);
        }
        let mut out = Vec::new();
        while let Some((ticket, request)) = self.bench.next_request() {
            self.link.send(now, ticket, request, &mut out);
            self.leave(&mut out, act);
        }
        if !self.bench.link_up() {
            self.waiting.clear();
            return;
        }
        self.leave_waiting(act);
        if now >= self.heartbeat {
            self.heartbeat = now + HEARTBEAT;
            self.link.send(now, Ticket::default(), Request::Heartbeat, &mut out);
            self.leave(&mut out, act);
        }
        if now >= self.link.wake() {
            let mut heard = std::mem::take(&mut self.heard);
            self.link.work(now, &mut out, &mut heard);
            self.leave(&mut out, act);
            self.hear(&mut heard);
            self.heard = heard;
        }
    }

    /// Every finished frame is judged by what it does now.
    fn leave(&mut self, out: &mut Vec<u8>, act: &mut dyn FnMut(Effect)) {
        if out.is_empty() {
            return;
        }
        for (bytes, frame) in self.link.frames_made(out) {
            // A repeat takes the place of what was made before it.
            self.waiting.retain(|(_, _, before)| *before != frame);
            self.leave_one(self.bench.now() + WAITS, bytes, frame, act);
        }
        out.clear();
    }

    /// What waited for it to be sure who is there, or at rest, is judged anew.
    fn leave_waiting(&mut self, act: &mut dyn FnMut(Effect)) {
        let now = self.bench.now();
        for (until, bytes, frame) in std::mem::take(&mut self.waiting) {
            if now < until {
                self.leave_one(until, bytes, frame, act);
            }
        }
    }

    fn leave_one(&mut self, until: Time, bytes: Vec<u8>, frame: Outgoing, act: &mut dyn FnMut(Effect)) {
        let verdict = self.bench.interlock().judge_frame(&frame);
        match verdict {
            FrameVerdict::Leaves(by) if self.bench.link_up() => {
                self.bench.interlock_mut().asks(&frame);
                act(Effect::Send { bytes, by });
            }
            FrameVerdict::Waits if frame.changes() => self.waiting.push((until, bytes, frame)),
            FrameVerdict::Leaves(_) | FrameVerdict::Waits => {}
            FrameVerdict::Refused(why) => self.link.refuse(&frame, &why),
        }
    }
}
