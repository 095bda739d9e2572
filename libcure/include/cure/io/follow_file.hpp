#pragma once
/// Followed jobs as documents, "libcure/follow/1": minutes, null for never, or not in two days of
/// holding (models/schema/follow.schema.json).

#include <cmath>
#include <cstddef>
#include <string>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/follow/follow.hpp"
#include "cure/io/answer_file.hpp"

namespace cure::io {

namespace detail {

inline double rounded(double value, double digits) { return std::round(value * digits) / digits; }

inline Json sure_json(follow::Sure const& s) {
  constexpr double minute = 1.0 / 60.0;
  Json never = Json::object();
  auto const share = [&](char const* name, double value) {
    if (value > 0.0) never[name] = rounded(value, 1e4);
  };
  for (std::size_t i = 0; i < s.state_share.size(); ++i) {
    auto const state = static_cast<process::ReleaseState>(i);
    if (state != process::ReleaseState::reached) share(name_of(state), s.state_share[i]);
  }
  share("failed", s.failed_share);
  return {{"working_time_min", band_json(s.working, minute)},
          {"gel_time_last_min", band_json(s.gel_last, minute)},
          {"criterion_met_min", band_json(s.release, minute)},
          {"wait_until_min", number_or_null(s.wait_until * minute)},
          {"no_release_share", never}};
}

inline char const* name_of(follow::Status status) {
  switch (status) {
    case follow::Status::may_come_out: return "may_come_out";
    case follow::Status::keep_in: return "keep_in";
    case follow::Status::not_on_these_readings: return "not_on_these_readings";
    case follow::Status::no_release: break;
  }
  return "no_release";
}

inline Json unknown_json(follow::Unknown const& u) {
  return {{"name", u.name},
          {"title", u.title},
          {"unit", u.unit},
          {"before", band_json(u.before, 1.0)},
          {"after", band_json(u.after, 1.0)},
          {"moved_sd", rounded(u.moved, 1e3)},
          {"kept_sd_share", rounded(u.kept, 1e3)},
          {"range_from", u.source}};
}

}  // namespace detail

/// @param name what the case is called
CURE_FUNCTION Json follow_json(std::string const& name, follow::Result const& r);
#if CURE_DEFINES(ANSWERS)
CURE_FUNCTION Json follow_json(std::string const& name, follow::Result const& r) {
  constexpr double minute = 1.0 / 60.0;
  Json reasons = Json::array(), faults = Json::array(), unknowns = Json::array();
  for (auto const& s : r.reasons) reasons.push_back({{"code", s.code}, {"text", s.text}});
  for (auto const& s : r.faults) {
    faults.push_back({{"code", s.code}, {"text", s.text}, {"readings", s.count}});
  }
  for (auto const& u : r.unknowns) unknowns.push_back(detail::unknown_json(u));
  return {{"format", "libcure/follow/1"},
          {"case", name},
          {"readings",
           {{"file", r.file},
            {"at", r.at},
            {"rows", r.readings.time.size()},
            {"used", r.readings.with(follow::used).size()},
            {"worth", detail::rounded(r.effective_readings, 1e2)}}},
          {"status", detail::name_of(r.status())},
          {"now_min", detail::number_or_null(r.now * minute)},
          {"now_from", r.now_given ? "given" : "last row"},
          {"release_min", detail::number_or_null(r.release * minute)},
          {"working_time_min", detail::number_or_null(r.working * minute)},
          {"release_passed", r.passed()},
          {"relied_on", r.relied_on},
          {"reasons", reasons},
          {"faults", faults},
          {"cautions", r.cautions},
          {"usual_cautions", r.usual_cautions},
          {"before", detail::sure_json(r.before)},
          {"after", detail::sure_json(r.after)},
          {"unknowns", unknowns},
          {"sampling",
           {{"rows", r.samples},
            {"effective_rows", detail::rounded(r.effective_rows, 1e1)},
            {"seed", r.seed}}}};
}
#endif

}  // namespace cure::io
