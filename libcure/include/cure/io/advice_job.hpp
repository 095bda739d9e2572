#pragma once
/// What advice is asked for: options as a document, and the resins that a job is compared with.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <filesystem>
#include <limits>
#include <optional>
#include <set>
#include <string>
#include <system_error>
#include <utility>
#include <vector>

#include "cure/advise/changes.hpp"
#include "cure/advise/needs.hpp"
#include "cure/compiled.hpp"
#include "cure/io/case_file.hpp"
#include "cure/io/number_text.hpp"

namespace cure::io {

/// Options of advice, and other resins to compare by id or path; nothing: those alike.
struct AdviceRequest {
  advise::Options options;
  std::optional<std::vector<std::string>> resins;
};

#if CURE_INSIDE
namespace detail {

inline constexpr std::size_t most_resins = 12;

inline std::string trimmed(std::string const& text) {
  auto const first = text.find_first_not_of(" \t\n");
  if (first == std::string::npos) return {};
  return text.substr(first, text.find_last_not_of(" \t\n") - first + 1);
}

/// Minutes of "330", or of hours and minutes such as "5:30"; NaN when it is neither.
inline double minutes_of(std::string const& given) {
  auto const text = trimmed(given);
  auto const colon = text.find(':');
  if (colon == std::string::npos) return number_of(text);
  bool const shaped = colon >= 1 && colon <= 4 && text.size() == colon + 3 && text[colon + 1] < '6';
  bool const digits = text.find_first_not_of("0123456789:") == std::string::npos;
  if (!shaped || !digits || text.rfind(':') != colon) return number_of({});
  return 60.0 * number_of(std::string_view(text).substr(0, colon)) +
         number_of(std::string_view(text).substr(colon + 1));
}

inline Range in_minutes(Range const& seconds) {
  return {.low = seconds.low / 60.0, .high = seconds.high / 60.0};
}

/// A moment or a duration [s]: a number of minutes, or a text with one or with hours and minutes.
inline double moment(Reader& r, std::string const& key, Range const& si) {
  auto const allowed = "minutes, " + in_minutes(si).text() + ", or hours and minutes such as 5:30";
  Json const& value = r.at(key, allowed);
  double minutes = std::numeric_limits<double>::quiet_NaN();
  if (value.is_number()) minutes = value.get<double>();
  if (value.is_string()) minutes = minutes_of(value.get<std::string>());
  if (!in_minutes(si).holds(minutes)) r.fail(key, Reader::shown_value(value), allowed);
  return 60.0 * minutes;
}

/// Family and rate law of a resin, or of each part of a blend.
inline std::set<std::pair<std::string, std::string>> kinds_of(ResinParts const& parts) {
  std::set<std::pair<std::string, std::string>> kinds;
  for (auto const& [path, share] : parts) {
    auto const part = load(path);
    kinds.emplace(part["family"].get<std::string>(), part["rate"]["law"].get<std::string>());
  }
  return kinds;
}

}  // namespace detail
#endif

/// Keys: working, release_by, longest_hold_min (minutes, or "h:mm"), reserve_min, coldest_resin_C,
/// hottest_fill_C, samples, threads, resins; all may be left out.
/// @throws InputError
CURE_FUNCTION AdviceRequest read_advice_options(Json const& document, std::string const& file = {});
#if CURE_DEFINES(ADVICE)
CURE_FUNCTION AdviceRequest read_advice_options(Json const& document, std::string const& file) {
  AdviceRequest request;
  auto& o = request.options;
  Reader r(document, "", file);
  using namespace advise::limits;
  if (r.has("working")) o.working = detail::moment(r, "working", moment);
  if (r.has("reserve_min")) {
    o.reserve = 60.0 * r.number("reserve_min", detail::in_minutes(reserve));
  }
  if (r.has("release_by")) o.release_by = detail::moment(r, "release_by", moment);
  auto const celsius = [&r](char const* key, Range const& si, double& into) {
    if (!r.has(key)) return;
    into = kelvin_from_celsius(r.number(
        key, {.low = advise::stated_celsius(si.low), .high = advise::stated_celsius(si.high)}));
  };
  celsius("coldest_resin_C", coldest_resin, o.reach.coldest_resin);
  celsius("hottest_fill_C", hottest_fill, o.reach.hottest_fill);
  if (r.has("longest_hold_min")) {
    o.reach.longest_hold = detail::moment(r, "longest_hold_min", longest_hold);
  }
  auto const whole = [&r](char const* key, Range const& range) {
    double const n = r.number(key, range);
    if (n != std::floor(n)) r.fail(key, shown(n), "a whole number, " + range.text());
    return static_cast<std::size_t>(n);
  };
  if (r.has("samples")) o.samples = whole("samples", {.low = 16.0, .high = 65536.0});
  if (r.has("threads")) o.threads = whole("threads", {.low = 1.0, .high = 4096.0});
  if (r.has("resins")) {
    auto names = r.texts("resins");
    if (names.size() > detail::most_resins) {
      r.fail("resins", std::to_string(names.size()) + " of them",
             "at most " + std::to_string(detail::most_resins));
    }
    for (auto& name : names) name = detail::trimmed(name);
    request.resins = std::move(names);
  }
  r.finish();
  return request;
}
#endif

/// The job of a case document, with other resins to compare. By default those of the library that
/// are of the same family and rate law and for such temperatures.
/// @param beside folder that relative paths in the document start from; those of `names` start from
/// the working folder
/// @throws InputError
CURE_FUNCTION advise::Job read_job(Json const& document, ModelLibrary const& library,
                                   std::filesystem::path const& beside, std::string const& file,
                                   std::optional<std::vector<std::string>> const& names);
#if CURE_DEFINES(ADVICE)
CURE_FUNCTION advise::Job read_job(Json const& document, ModelLibrary const& library,
                                   std::filesystem::path const& beside, std::string const& file,
                                   std::optional<std::vector<std::string>> const& names) {
  auto const read = [&](Json const& d) { return read_case(d, library, beside, file); };
  advise::Job job{read(document), {}, {}};
  auto const& own = document["resin"];
  job.resin = own.is_string() ? own.get<std::string>() : job.planned.resin.id;
  std::set<std::string> told{job.resin};
  auto const add = [&](std::string const& name, bool always) {
    if (!told.insert(name).second) return;
    auto other = document;
    other["resin"] = name;
    auto c = read(other);
    if (!always && c.resin.validity.temperature_min > c.initial.resin) return;
    job.others.push_back({name, std::move(c)});
  };
  if (names) {
    for (auto const& name : *names) {
      auto const path = library.find("resins", name, std::filesystem::current_path(), "resin", "");
      bool const by_path = name.find('/') != std::string::npos || name.ends_with(".json");
      add(by_path ? path.lexically_normal().string() : name, true);
    }
    return job;
  }
  auto const kinds = detail::kinds_of(
      own.is_string()
          ? resin_parts(library.find("resins", job.resin, beside, "resin", file), library)
          : blend_parts(own, library, beside));
  for (auto const& id : resin_ids(library)) {
    auto const path = library.find("resins", id, beside, "resin", file);
    for (auto const& kind : detail::kinds_of(resin_parts(path, library))) {
      if (!kinds.contains(kind)) continue;
      add(id, false);
      break;
    }
  }
  return job;
}
#endif

}  // namespace cure::io
