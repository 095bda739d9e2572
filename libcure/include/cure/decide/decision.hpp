#pragma once
/// What to do: one status, one release to use, and the reasons. Every front shows this decision.
///
/// Where there are ranges, the release is the upper confidence bound of the 95 % side of the time
/// at which the criterion is met, plus the numerical error, rounded up to 5 min. Where there are
/// none, it is that time with its numerical error, times the case's safety factor, rounded up. No
/// second factor comes on top. A job that must not be done as planned has no release.

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdio>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/decide/ranges.hpp"
#include "cure/decide/words.hpp"
#include "cure/process/verdict.hpp"
#include "cure/units.hpp"

namespace cure::decide {

/// ok: do it as planned. wait: it works with what is said beside it. stop: do not.
enum class Status { ok, wait, stop };

struct Reason {
  std::string code, text;
  Status status = Status::wait;  ///< what it alone makes of the job: wait or stop
};

/// What the release rests on.
enum class Basis {
  range,  ///< the 95 % side of sampled jobs
  point,  ///< one simulation, times a safety factor
};

struct Decision {
  Status status = Status::stop;
  std::optional<double> release_time;   ///< the one to use, from mixing [s]
  std::optional<double> working_until;  ///< low side of the working time [s]
  /// Low side of the latest moment in place [s]; nothing: no limit, nothing comes before the hold,
  /// or no ranges.
  std::optional<double> latest_in_place;
  Basis basis = Basis::point;
  std::vector<Reason> reasons;  ///< what stops the job first
  std::string headline;
};

namespace detail {

/// Cautions of a verdict that stop a job by themselves.
inline constexpr std::array stopping{"working_margin_negative", "too_viscous_at_mixing",
                                     "release_never",           "gelled_before_held",
                                     "no_held_stage",           "mixed_mass_too_hot",
                                     "liner_too_hot",           "pipe_too_hot",
                                     "bladder_too_hot",         "fill_above_bladder_limit",
                                     "outside_validity",        "marginal",
                                     "outside_model",           "cannot_bear"};
/// Those with which a job may be done, but not without a word beside its times.
inline constexpr std::array to_mind{"criterion_weakened", "unusual_temperature", "not_measured",
                                    "outside_verified"};
/// Of those that stop it and of those of ranges: the times are not to be relied on. Others say that
/// the job must not be done.
inline constexpr std::array unreliable{"outside_validity",      "marginal",
                                       "release_not_sure",      "outside_model",
                                       "working_time_not_sure", "heat_not_sure"};

template <std::size_t n>
bool is_among(std::array<char const*, n> const& list, std::string_view code) {
  return std::any_of(list.begin(), list.end(), [&](char const* c) { return code == c; });
}

/// Of a time of a verdict [s]; 0 where it was not asked for, or cannot be told.
inline double numerical_error(process::Verdict const& v, char const* time) {
  if (!v.numerical_error) return 0.0;
  auto const found = v.numerical_error->time.find(time);
  return found == v.numerical_error->time.end() ? 0.0 : found->second.error.value_or(0.0);
}

inline std::string simulations(double share) {
  return "In " + per_hundred(share) + " simulations over the assumed ranges";
}

#if CURE_INSIDE
class Deciding {
 public:
  Deciding(Case const& c, process::Verdict const& v, std::optional<Ranges> const& r,
           double release_error)
      : case_(c), verdict_(v), ranges_(r), release_error_(release_error) {}

  Decision run() {
    d_.basis = ranges_ ? Basis::range : Basis::point;
    for (auto const& caution : verdict_.cautions) {
      if (is_among(stopping, caution.code)) add(Status::stop, caution.code, caution.text);
      if (is_among(to_mind, caution.code)) add(Status::wait, caution.code, caution.text);
    }
    working();
    heat();
    release();
    d_.status = Status::ok;
    for (auto const& reason : d_.reasons) d_.status = std::max(d_.status, reason.status);
    std::stable_sort(d_.reasons.begin(), d_.reasons.end(),
                     [](auto const& a, auto const& b) { return a.status > b.status; });
    if (d_.status == Status::stop) d_.release_time.reset();
    d_.headline = headline();
    return std::move(d_);
  }

 private:
  void add(Status status, std::string code, std::string text) {
    d_.reasons.push_back({std::move(code), std::move(text), status});
  }
  [[nodiscard]] bool has(std::string_view code) const {
    return std::any_of(d_.reasons.begin(), d_.reasons.end(),
                       [&](auto const& reason) { return reason.code == code; });
  }

  void working() {
    double const error = numerical_error(verdict_, "working");
    if (ranges_ && std::isfinite(ranges_->working_side.bound)) {
      d_.working_until = std::max(0.0, ranges_->working_side.bound - error);
    } else if (!ranges_ && verdict_.working_time) {
      d_.working_until = std::max(0.0, *verdict_.working_time - error);
    }
    if (ranges_ && ranges_->latest_in_place) {
      // Put on a cold pipe the resin may be too thick at once: never later than the working time.
      double const latest =
          std::min(ranges_->latest_in_place_side.bound, ranges_->working_side.bound);
      if (std::isfinite(latest)) d_.latest_in_place = std::max(0.0, latest - error);
    }
    if (!ranges_ || ranges_->too_late_share <= 1.0 - side_share) return;
    if (has("working_margin_negative") || has("gelled_before_held")) return;
    add(Status::stop, "working_time_not_sure",
        simulations(ranges_->too_late_share) +
            " the resin passes its working limit before the liner is held: be quicker, or keep "
            "resin and packer cooler (libcure advise).");
  }

  void heat() {
    static constexpr std::array said{"mixed_mass_too_hot", "liner_too_hot", "pipe_too_hot",
                                     "bladder_too_hot", "fill_above_bladder_limit"};
    if (!ranges_ || ranges_->too_hot_share <= 1.0 - side_share) return;
    if (std::any_of(said.begin(), said.end(), [&](char const* code) { return has(code); })) return;
    char limit[32];
    std::snprintf(limit, sizeof limit, "%g °C", celsius_from_kelvin(ranges_->temperature_limit));
    add(Status::stop, "heat_not_sure",
        simulations(ranges_->too_hot_share) + " the resin passes " + limit +
            ", the lowest temperature limit of resin, bladder and pipe: cool it, or take a slower "
            "hardener (libcure advise).");
  }

  void release() {
    if (has("no_held_stage") || has("gelled_before_held") || has("cannot_bear")) return;
    if (!ranges_) {
      if (verdict_.release_time) {
        d_.release_time =
            rounded_up((*verdict_.release_time + release_error_) * case_.release.safety_factor);
      } else if (!has("release_never")) {
        add(Status::stop, "release_not_reached",
            "The liner is not safe to release when the held stage ends: keep the bladder in, and "
            "hold longer or warm it.");
      }
    } else if (std::isinf(ranges_->release_side.bound)) {
      if (!has("release_never")) not_sure();
    } else {
      d_.release_time = rounded_up(ranges_->release_side.bound + release_error_);
      wide();
    }
    hold();
  }

  /// That a release cannot be told on its conservative side, and what to do.
  void not_sure() {
    using process::ReleaseState;
    auto const& r = *ranges_;
    std::string why = "there is no answer", todo = "take none of these times as sure";
    double most = r.failed_share;
    auto const take = [&](ReleaseState state, std::string what, char const* then) {
      if (r.share(state) < most || r.share(state) == 0.0) return;
      most = r.share(state);
      why = std::move(what);
      todo = then;
    };
    take(ReleaseState::not_in_hold,
         "the release criterion is not met in " + duration(r.look, false),
         "warm the wall, and measure it");
    take(ReleaseState::vitrified, "the resin vitrifies before it may be released",
         "warm the wall, time will not do it, and measure it");
    take(ReleaseState::gelled_before_held, "the resin sets before it is held",
         "be quicker, or keep resin and packer cooler (libcure advise)");
    take(ReleaseState::outside_model,
         "the wall passes what the resin model knows of setting in the cold",
         "warm the wall, or take a model with evidence on it");
    // A bound may be infinite although few samples are.
    double const share = std::max(r.not_released_share(), 1.0 - side_share);
    add(Status::stop, "release_not_sure", simulations(share) + " " + why + ": " + todo + ".");
  }

  void wide() {
    auto const& r = *ranges_;
    if (!r.release_side.covered) {
      add(Status::wait, "few_samples",
          "The release rests on " + std::to_string(r.samples) +
              " samples only, and is their latest: measure the wall.");
    }
    if (d_.release_time && *d_.release_time > 2.0 * r.release.p50 + release_step) {
      add(Status::wait, "wide",
          "What is not known exactly makes the release twice as late as in the middle of such "
          "jobs (" +
              duration(r.release.p50, true) + "): a thermocouple in the wall may bring it forward" +
              (case_.section ? "." : " (libcure follow)."));
    }
  }

  /// A hold that is planned to be broken off, or to end, before the release.
  void hold() {
    auto const hold = process::planned_hold(case_);
    double const release = d_.release_time.value_or(infinite);
    for (std::size_t i = 0; i < case_.stages.size(); ++i) {
      double const down = process::planned_start(case_, i);
      bool const pause = std::holds_alternative<process::AfterRelease>(case_.stages[i]) && hold &&
                         down > hold->first && down < hold->second;
      if (!pause || release <= down + 1.0) continue;
      add(Status::stop, "let_down_too_soon",
          "The bladder is let down at " + duration(down, false) +
              ", before the liner may be released: it may sag or come off the wall, and pressing "
              "it "
              "on again may not mend that.");
      break;
    }
    if (!d_.release_time || !hold || *d_.release_time <= hold->second + 1.0) return;
    add(Status::wait, "hold_longer",
        "The hold is planned to end at " + duration(hold->second, false) + ": hold until " +
            duration(*d_.release_time, true) + ".");
  }

  [[nodiscard]] std::string headline() const {
    auto const stops = static_cast<std::size_t>(
        std::count_if(d_.reasons.begin(), d_.reasons.end(),
                      [](auto const& reason) { return reason.status == Status::stop; }));
    auto const see = [](std::size_t count) {
      return count == 1 ? std::string("caution 1") : "cautions 1 to " + std::to_string(count);
    };
    if (stops == 0) {
      auto const until = d_.release_time ? duration(*d_.release_time, true) : std::string();
      std::string words = "Keep the bladder in until " + until + " after mixing";
      if (!d_.reasons.empty()) words += ", and mind " + see(d_.reasons.size());
      return words + (d_.basis == Basis::point ? ", if all is as stated." : ".");
    }
    if (stops == 1 && has("no_held_stage")) {
      return "NO RELEASE TIME: the case has no held stage.";
    }
    bool const only_unreliable =
        std::all_of(d_.reasons.begin(), d_.reasons.end(), [](auto const& reason) {
          return reason.status != Status::stop || is_among(unreliable, reason.code);
        });
    return (only_unreliable ? "DO NOT RELY ON THESE TIMES: see "
                            : "DO NOT DO THIS JOB AS PLANNED: see ") +
           see(stops) + ".";
  }

  Case const& case_;
  process::Verdict const& verdict_;
  std::optional<Ranges> const& ranges_;
  double release_error_;
  Decision d_;
};

#endif

}  // namespace detail

/// The decision on a case from its verdict and, where they are known, its ranges.
/// @param release_error numerical error of the time at which the criterion is met [s]
CURE_FUNCTION Decision decide(Case const& c, process::Verdict const& v,
                              std::optional<Ranges> const& r, double release_error);
#if CURE_DEFINES(DECIDE)
CURE_FUNCTION Decision decide(Case const& c, process::Verdict const& v,
                              std::optional<Ranges> const& r, double release_error) {
  return detail::Deciding(c, v, r, release_error).run();
}
#endif

}  // namespace cure::decide
