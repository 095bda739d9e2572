#pragma once
/// The table of times: each with the point that decides it and, where they are known, its range.
///
/// What ends the work is rounded down, what must be waited for up, ranges outward.

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <string_view>
#include <tuple>
#include <utility>
#include <vector>

#include "cure/decide/answer.hpp"
#include "cure/page/numbers.hpp"
#include "cure/page/page.hpp"
#include "cure/process/release_needs.hpp"

namespace cure::page {

/// What stands in the place of a time, and whether it must not be.
struct Beyond {
  std::string words;
  bool bad = false;
};

/// The 5 and 95 % of a time [s], rounded outward; `beyond` stands for infinite.
inline std::string range(uncertain::Band const& band, std::string const& beyond) {
  if (std::isinf(band.p5)) return beyond;
  double const p5 = band.p5 / 60.0, p95 = band.p95 / 60.0;
  std::string low, high;
  if (p95 < 10.0) {
    low = number(down(10.0 * p5) / 10.0) + " min";
    high = number(up(10.0 * p95) / 10.0) + " min";
  } else {
    low = decide::short_duration(60.0 * down(p5));
    high = std::isinf(p95) ? beyond : decide::short_duration(60.0 * up(p95));
  }
  if (low == high) return low;
  constexpr std::string_view unit = " min";
  if (low.ends_with(unit) && high.ends_with(unit)) low.resize(low.size() - unit.size());
  return low + " to " + high;
}

namespace detail {

/// A release that the simulation does not have.
inline Beyond never(process::ReleaseState state) {
  using process::ReleaseState;
  switch (state) {
    case ReleaseState::vitrified: return {"NEVER: vitrified", true};
    case ReleaseState::gelled_before_held: return {"NONE: gelled before held", true};
    case ReleaseState::not_in_hold: return {"NOT WHILE HELD", true};
    case ReleaseState::no_held_stage: return {"NO HELD STAGE", true};
    case ReleaseState::outside_model: return {"NOT KNOWN: no evidence", true};
    case ReleaseState::reached: break;
  }
  return {"NEVER", true};
}

/// A release that many samples do not have, by what most of those end in.
inline Beyond not_released(decide::Ranges const& r) {
  using process::ReleaseState;
  Beyond found;
  double most = 0.0;
  auto const take = [&](double share, Beyond words) {
    if (share > most) std::tie(most, found) = std::pair{share, std::move(words)};
  };
  take(r.failed_share, {"NO ANSWER", true});
  take(r.share(ReleaseState::gelled_before_held), {"NONE", true});
  take(r.share(ReleaseState::no_held_stage), {});
  take(r.share(ReleaseState::not_in_hold), {"LATER", true});
  take(r.share(ReleaseState::outside_model), {"NOT KNOWN", true});
  take(r.share(ReleaseState::vitrified), {"NEVER", true});
  return found;
}

class Rows {
 public:
  Rows(process::Case const& c, decide::Answer const& a)
      : case_(c), v_(a.prediction.verdict), decision_(a.decision), ranges_(a.ranges) {}

  std::vector<Row> run() {
    Beyond const outside{"not in these stages"};
    working(outside);
    in_place_by();
    add(time("First gel", v_.gel_time_first, "gel_first", outside, false));
    likely(&decide::Ranges::gel_first, {"later"});
    add(time("Last gel", v_.gel_time_last, "gel_last", outside, true));
    likely(&decide::Ranges::gel_last, {"later"});
    add(time("Criterion met", v_.release_time, "release", never(v_.release_state), true,
             waits_for()));
    if (ranges_) likely(&decide::Ranges::release, not_released(*ranges_));
    bladder_out();
    service();
    hottest();
    return std::move(rows_);
  }

 private:
  void add(Row row) { rows_.push_back(std::move(row)); }

  /// Gives the last row its range.
  void likely(uncertain::Band decide::Ranges::*of, Beyond const& beyond) {
    if (ranges_) likely((*ranges_).*of, beyond);
  }
  void likely(uncertain::Band const& band, Beyond const& beyond) {
    rows_.back().likely = range(band, beyond.words);
    rows_.back().unlikely = band.p5 < 0.0 || (beyond.bad && std::isinf(band.p95));
  }

  /// The minutes stand beside the hours where there is no range, for which there must be room.
  [[nodiscard]] std::string words(double seconds, bool up) const {
    return ranges_ ? decide::duration_alone(seconds, up) : decide::duration(seconds, up);
  }

  [[nodiscard]] process::Point const* limiting(char const* name) const {
    auto const found = v_.limiting.find(name);
    return found == v_.limiting.end() ? nullptr : &found->second;
  }

  [[nodiscard]] Row time(char const* name, std::optional<double> seconds, char const* point,
                         Beyond const& beyond, bool up, std::string const& why = "") const {
    auto const* decides = limiting(point);
    if (!seconds) {
      return {name, beyond.words, decides != nullptr ? state(*decides) : "",
              beyond.bad ? Mark::bad : Mark::none};
    }
    return {name, words(*seconds, up), decides != nullptr ? why + warmth(*decides) : why};
  }

  void working(Beyond const& outside) {
    add(time("Working time ends", v_.working_time, "working", outside, false));
    likely(&decide::Ranges::working, {"later"});
    if (!v_.working_margin) return;
    bool const late = *v_.working_margin < 0.0;
    add({"Working margin", words(*v_.working_margin, false) + (late ? ", TOO LATE" : ""),
         "liner held from " + decide::duration(*v_.held_from, true),
         late ? Mark::bad : Mark::none});
    if (ranges_ && ranges_->held()) likely(ranges_->margin, {"no limit"});
  }

  /// The other number that a crew works to.
  void in_place_by() {
    if (!ranges_ || !ranges_->latest_in_place) return;
    auto const& latest = decision_.latest_in_place;
    bool const use = decision_.status != decide::Status::stop;
    add({"IN PLACE BY", latest ? words(*latest, false) : "no limit",
         "5 % side, if the liner waits until then", use ? Mark::key : Mark::none});
    likely(*ranges_->latest_in_place, {"no limit"});
  }

  /// Which requirement of the release is met last.
  [[nodiscard]] std::string waits_for() const {
    auto const* point = limiting("release");
    if (point == nullptr) return "";
    auto const asked = process::release_needs(case_);
    if (std::abs(point->alpha - asked.alpha_min) < 1e-4) {
      return number(100.0 * asked.alpha_min, 3) + " % cured, ";
    }
    if (std::isinf(asked.Tg_margin)) return "never borne, ";
    auto const& hardest = asked.hardest();
    return "Tg ≥ T+" + number(asked.Tg_margin, 3) + " K" +
           (hardest.modulus > 0.0 ? " (" + hardest.what + ")" : "") + ", ";
  }

  /// The answer; without a number where the job must not be done.
  void bladder_out() {
    constexpr char const* name = "BLADDER OUT";
    if (!decision_.release_time) {
      add({name, "NOT TO BE PLANNED", "see the cautions", Mark::bad});
      return;
    }
    auto const why =
        decision_.basis == decide::Basis::point
            ? number(case_.release.safety_factor) + " × the time above, up to the next 5 min"
            : std::string("95 % side, up to the next 5 min");
    add({name, words(*decision_.release_time, true), why, Mark::key});
  }

  void service() {
    constexpr char const* name = "Return to service";
    auto const asked =
        "Tg ≥ " + number(celsius_from_kelvin(case_.service.temperature) + case_.service.Tg_margin) +
        " °C";
    auto const* point = limiting("service");
    if (v_.release_state == process::ReleaseState::gelled_before_held) {
      add({name, "NONE: gelled before held", "", Mark::bad});
    } else if (!v_.service_time) {
      add({name, "NOT IN THESE STAGES", asked + (point != nullptr ? ", " + state(*point) : ""),
           Mark::bad});
    } else {
      bool const at_release = point != nullptr && point->time < *v_.service_time;
      add({name, words(*v_.service_time, true),
           asked + (at_release         ? " already at release"
                    : point != nullptr ? ", " + warmth(*point)
                                       : "")});
    }
    if (ranges_ && ranges_->service) likely(*ranges_->service, {"LATER", true});
  }

  void hottest() {
    add({"Hottest resin", fixed(celsius_from_kelvin(v_.peak.temperature), 0) + " °C",
         place(v_.peak) + " at " + decide::duration_alone(v_.peak.time, false)});
    if (!ranges_) return;
    auto const& peak = ranges_->peak_temperature;
    bool const known = std::isfinite(peak.p95);
    rows_.back().likely =
        fixed(down(celsius_from_kelvin(peak.p5)), 0) + " to " +
        (known ? fixed(up(celsius_from_kelvin(peak.p95)), 0) + " °C" : "NO ANSWER");
    rows_.back().unlikely = !known;
  }

  process::Case const& case_;
  process::Verdict const& v_;
  decide::Decision const& decision_;
  std::optional<decide::Ranges> const& ranges_;
  std::vector<Row> rows_;
};

}  // namespace detail

/// @param c the case of the answer
inline std::vector<Row> rows(process::Case const& c, decide::Answer const& a) {
  return detail::Rows(c, a).run();
}

}  // namespace cure::page
