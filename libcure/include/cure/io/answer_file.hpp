#pragma once
/// Answers as documents: the verdict with the decision and its ranges beside it,
/// "libcure/verdict/1". Minutes and degrees Celsius, null for never.

#include <cmath>
#include <optional>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/decide/answer.hpp"
#include "cure/io/verdict_file.hpp"

namespace cure::io {

namespace detail {

inline Json number_or_null(double value) {
  if (!std::isfinite(value)) return nullptr;
  return std::round(1e4 * value) / 1e4;
}

/// @param factor, offset from SI to the document's unit
inline Json band_json(uncertain::Band const& b, double factor, double offset = 0.0) {
  return {{"p5", number_or_null(b.p5 * factor + offset)},
          {"p50", number_or_null(b.p50 * factor + offset)},
          {"p95", number_or_null(b.p95 * factor + offset)}};
}

inline Json side_json(uncertain::Side const& side) {
  return {{"estimate_min", number_or_null(side.estimate / 60.0)},
          {"bound_min", number_or_null(side.bound / 60.0)},
          {"covered", side.covered}};
}

inline char const* name_of(decide::Status status) {
  switch (status) {
    case decide::Status::ok: return "ok";
    case decide::Status::wait: return "wait";
    case decide::Status::stop: break;
  }
  return "stop";
}

}  // namespace detail

inline Json reasons_json(std::vector<decide::Reason> const& reasons) {
  Json list = Json::array();
  for (auto const& r : reasons) {
    list.push_back({{"code", r.code}, {"text", r.text}, {"status", detail::name_of(r.status)}});
  }
  return list;
}

CURE_FUNCTION Json decision_json(decide::Decision const& d);
#if CURE_DEFINES(ANSWERS)
CURE_FUNCTION Json decision_json(decide::Decision const& d) {
  return {{"status", detail::name_of(d.status)},
          {"release_min", detail::minutes_or_null(d.release_time)},
          {"working_until_min", detail::minutes_or_null(d.working_until)},
          {"latest_in_place_min", detail::minutes_or_null(d.latest_in_place)},
          {"basis", d.basis == decide::Basis::range ? "range" : "point"},
          {"headline", d.headline},
          {"reasons", reasons_json(d.reasons)}};
}
#endif

CURE_FUNCTION Json ranges_json(std::optional<decide::Ranges> const& given);
#if CURE_DEFINES(ANSWERS)
CURE_FUNCTION Json ranges_json(std::optional<decide::Ranges> const& given) {
  if (!given) return nullptr;
  auto const& r = *given;
  constexpr double minute = 1.0 / 60.0;
  Json shares = Json::object();
  for (std::size_t i = 0; i < r.state_share.size(); ++i) {
    shares[detail::name_of(static_cast<process::ReleaseState>(i))] = r.state_share[i];
  }
  shares["failed"] = r.failed_share;
  return {
      {"working_time_min", detail::band_json(r.working, minute)},
      {"working_margin_min", r.held() ? detail::band_json(r.margin, minute) : Json(nullptr)},
      {"latest_in_place_min",
       r.latest_in_place ? detail::band_json(*r.latest_in_place, minute) : Json(nullptr)},
      {"gel_time_first_min", detail::band_json(r.gel_first, minute)},
      {"gel_time_last_min", detail::band_json(r.gel_last, minute)},
      {"criterion_met_min", detail::band_json(r.release, minute)},
      {"service_time_min", r.service ? detail::band_json(*r.service, minute) : Json(nullptr)},
      {"peak_temperature_C", detail::band_json(r.peak_temperature, 1.0, -zero_celsius)},
      {"working_side", detail::side_json(r.working_side)},
      {"release_side", detail::side_json(r.release_side)},
      {"release_state_share", shares},
      {"too_late_share", r.too_late_share},
      {"too_hot_share", r.too_hot_share},
      {"look_min", r.look / 60.0},
      {"samples", r.samples},
      {"simulated", r.simulated},
      {"seed", r.seed},
      {"resin_constants", r.constants},
      {"uncertain", r.source},
  };
}
#endif

CURE_FUNCTION Json answer_json(process::Case const& c, decide::Answer const& a);
#if CURE_DEFINES(ANSWERS)
CURE_FUNCTION Json answer_json(process::Case const& c, decide::Answer const& a) {
  auto document = verdict_json(c, a.prediction.verdict);
  document["answer"] = decision_json(a.decision);
  document["ranges"] = ranges_json(a.ranges);
  document["why_no_ranges"] = a.why_no_ranges;
  return document;
}
#endif

}  // namespace cure::io
