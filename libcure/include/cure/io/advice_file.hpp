#pragma once
/// Advice as a document, "libcure/advice/1": minutes and degrees Celsius, null for never. Each
/// change of a proposal stands as a value by its path in the case document.

#include <algorithm>
#include <cstddef>
#include <filesystem>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "cure/advise/advisor.hpp"
#include "cure/compiled.hpp"
#include "cure/io/advice_job.hpp"
#include "cure/io/answer_file.hpp"

namespace cure::io {

namespace detail {

inline char const* name_of(advise::Kind kind) {
  static constexpr char const* names[] = {
      "resin_temperature", "packer_temperature", "smaller_mix", "spread",  "shade", "wrap",
      "in_place",          "fill_temperature",   "hold",        "hardener"};
  return names[static_cast<std::size_t>(kind)];
}

inline char const* name_of(advise::Need need) {
  static constexpr char const* names[] = {"working", "release", "hot", "model", "reserve"};
  return names[static_cast<std::size_t>(need)];
}

template <class List>
Json names_of(List const& list) {
  Json names = Json::array();
  for (auto const& entry : list) names.push_back(name_of(entry));
  return names;
}

/// Values of a lever, or of a hold, by keys that end in their unit.
class Valued {
 public:
  Valued(Json& into, std::vector<advise::Kind> const& kind)
      : into_(into),
        time_(kind.back() == advise::Kind::hold || kind.back() == advise::Kind::in_place) {}

  void put(std::string const& name, std::optional<double> value) {
    if (value) into_[name + unit()] = in_unit(*value);
  }
  void put(std::string const& name, std::optional<std::pair<double, double>> const& range) {
    if (range) into_[name + unit()] = {in_unit(range->first), in_unit(range->second)};
  }

 private:
  [[nodiscard]] char const* unit() const { return time_ ? "_min" : "_C"; }
  [[nodiscard]] double in_unit(double si) const {
    return time_ ? si / 60.0 : advise::stated_celsius(si);
  }

  Json& into_;
  bool time_;
};

/// What the fill of a stage becomes, as the document has it: a cycle, a table or a number.
inline std::pair<char const*, Json> filled(Json const& stage, double hottest_C) {
  if (stage.contains("fill_cycle")) {
    auto cycle = stage["fill_cycle"];
    double from = -zero_celsius;
    for (auto const& leg : cycle["legs"]) from = std::max(from, leg["to_C"].get<double>());
    for (auto& leg : cycle["legs"]) {
      if (leg["to_C"].get<double>() == from) leg["to_C"] = hottest_C;
    }
    return {"fill_cycle", std::move(cycle)};
  }
  if (!stage.contains("fill_temperature_C") || !stage["fill_temperature_C"].is_object()) {
    return {"fill_temperature_C", hottest_C};
  }
  auto table = stage["fill_temperature_C"];
  auto values = table["value"].get<std::vector<double>>();
  double const up = hottest_C - *std::max_element(values.begin(), values.end());
  for (double& T : values) T += up;
  table["value"] = values;
  return {"fill_temperature_C", std::move(table)};
}

}  // namespace detail

/// Changes of a job as values by path, for whoever edits its case document.
inline Json changes_json(Json const& document, advise::Job const& job, advise::Changes const& x) {
  auto const path = [](std::size_t i, std::string const& key) {
    return "stages[" + std::to_string(i) + "]." + key;
  };
  Json changes = Json::object();
  if (x.hardener) changes["resin"] = job.others.at(*x.hardener).name;
  if (x.resin) changes["initial_temperature_C.resin"] = advise::stated_celsius(*x.resin);
  if (x.packer) changes["initial_temperature_C.packer"] = advise::stated_celsius(*x.packer);
  auto const& planned = x.hardener ? job.others.at(*x.hardener).job : job.planned;
  auto const changed = advise::changed(job, x);
  for (std::size_t i = 0; i < changed.stages.size(); ++i) {
    auto const& before = planned.stages[i];
    auto const& stage = changed.stages[i];
    auto const take = [&](char const* key, double was, double is, double unit) {
      if (is != was) changes[path(i, key)] = is / unit;
    };
    take("duration_min", process::duration(before), process::duration(stage), 60.0);
    if (auto const* pot = std::get_if<process::MixedMass>(&stage)) {
      auto const& was = std::get<process::MixedMass>(before);
      take("mass_kg", was.mass, pot->mass, 1.0);
      take("surface_area_m2", was.surface_area, pot->surface_area, 1.0);
    } else if (auto const* wet = std::get_if<process::WetOut>(&stage)) {
      auto const& was = std::get<process::WetOut>(before);
      take("absorbed_sun_W_m2", was.absorbed_sun.max(), wet->absorbed_sun.max(), 1.0);
      take("h_W_m2K", was.h.max(), wet->h.max(), 1.0);
    } else if (auto const* held = std::get_if<process::Held>(&stage); held && x.fill) {
      auto const [key, value] = detail::filled(
          document["stages"][i], advise::stated_celsius(advise::detail::hottest_of(*held)));
      changes[path(i, key)] = value;
    }
  }
  return changes;
}

inline Json outcome_json(advise::Outcome const& o) {
  using detail::minutes_or_null;
  auto const& v = o.verdict;
  Json troubles = Json::array();
  for (auto const& reason : o.decision.reasons) {
    troubles.push_back({{"code", reason.code}, {"text", reason.text}});
  }
  Json sides = nullptr;
  if (o.sides) {
    auto const& peak = o.sides->peak_temperature;
    sides = {{"latest_in_place_min", minutes_or_null(o.sides->latest_in_place)},
             {"working_min", minutes_or_null(o.sides->working)},
             {"release_min", minutes_or_null(o.sides->release)},
             {"peak_temperature_C",
              peak ? detail::number_or_null(celsius_from_kelvin(*peak)) : Json(nullptr)}};
  }
  return {{"latest_in_place_min", minutes_or_null(o.latest_in_place)},
          {"working_min", minutes_or_null(v.working_time)},
          {"gel_first_min", minutes_or_null(v.gel_time_first)},
          {"gel_last_min", minutes_or_null(v.gel_time_last)},
          {"criterion_met_min", minutes_or_null(v.release_time)},
          {"service_min", minutes_or_null(v.service_time)},
          {"held_from_min", minutes_or_null(v.held_from)},
          {"working_margin_min", minutes_or_null(v.working_margin)},
          {"release_min", minutes_or_null(o.decision.release_time)},
          {"release_state", detail::name_of(v.release_state)},
          {"peak_temperature_C", celsius_from_kelvin(v.peak.temperature)},
          {"peak_time_min", v.peak.time / 60.0},
          {"peak_place", advise::place_words(v.peak)},
          {"status", detail::name_of(o.decision.status)},
          {"troubles", troubles},
          {"unmet", detail::names_of(o.unmet)},
          {"wrong", advise::wrong(o)},
          {"conservative_sides", sides}};
}

inline Json proposal_json(Json const& document, advise::Job const& job, advise::Proposal const& p) {
  Json j{{"kind", detail::names_of(p.kind)},
         {"words", p.words},
         {"said", advise::said(p)},
         {"does_it", p.does_it()},
         {"changes", changes_json(document, job, p.changes)},
         {"outcome", outcome_json(p.outcome)},
         {"notes", p.notes}};
  detail::Valued valued(j, p.kind);
  valued.put("value", p.value);
  valued.put("middle_value", p.middle);
  valued.put("edge", p.edge);
  valued.put("works_to", p.works_to);
  valued.put("searched", p.searched);
  return j;
}

/// @param document the case that the job was read from
CURE_FUNCTION Json advice_json(Json const& document, advise::Job const& job,
                               advise::Advice const& a);
#if CURE_DEFINES(ADVICE)
CURE_FUNCTION Json advice_json(Json const& document, advise::Job const& job,
                               advise::Advice const& a) {
  Json proposals = Json::array(), none = Json::array(), hardeners = Json::array();
  Json exact = Json::array();
  for (auto const& p : a.proposals) proposals.push_back(proposal_json(document, job, p));
  for (auto const& n : a.no_values) {
    Json j{{"kind", detail::names_of(n.kind)}, {"words", n.words}, {"best", n.best}};
    detail::Valued(j, n.kind).put("searched", n.searched);
    none.push_back(std::move(j));
  }
  for (auto const& h : a.hardeners) {
    hardeners.push_back({{"resin", h.resin},
                         {"title", h.title},
                         {"estimated", h.estimated},
                         {"own", h.own},
                         {"outcome", outcome_json(h.outcome)}});
    if (h.exact) exact.push_back(h.resin);
  }
  return {{"format", "libcure/advice/1"},
          {"title", a.title},
          {"headline", a.headline},
          {"needs",
           {{"working_min", a.needs.working / 60.0},
            {"working_stated", a.needs.working_stated},
            {"reserve_min", a.needs.reserve / 60.0},
            {"release_by_min", detail::minutes_or_null(a.needs.release_by)},
            {"held_from_min", a.needs.held_from / 60.0}}},
          {"searched",
           {{"coldest_resin_C", advise::stated_celsius(a.reach.coldest_resin)},
            {"hottest_fill_C", advise::stated_celsius(a.reach.hottest_fill)},
            {"longest_hold_min", a.reach.longest_hold / 60.0}}},
          {"nothing_to_change", a.nothing_to_change()},
          {"as_planned", outcome_json(a.planned)},
          {"proposals", proposals},
          {"no_value", none},
          {"hardeners", hardeners},
          {"uncertain",
           {{"ranges", a.uncertain},
            {"none_because", a.why_no_ranges},
            {"samples", a.planned.samples},
            {"without_constants", exact}}},
          {"longest_wet_out_min", a.longest_wet_out / 60.0},
          {"cautions", a.cautions}};
}
#endif

/// Advice on a case document, as a document.
/// @param beside folder that relative paths in it start from. @param file stands for it in messages
/// @throws InputError, SolverError, Stopped
CURE_FUNCTION Json advise_document(Json const& document, ModelLibrary const& library,
                                   std::filesystem::path const& beside, std::string const& file,
                                   AdviceRequest const& request);
#if CURE_DEFINES(ADVICE)
CURE_FUNCTION Json advise_document(Json const& document, ModelLibrary const& library,
                                   std::filesystem::path const& beside, std::string const& file,
                                   AdviceRequest const& request) {
  auto const job = read_job(document, library, beside, file, request.resins);
  try {
    return advice_json(document, job, advise::advise(job, request.options));
  } catch (InputError const& e) {
    if (!e.file().empty()) throw;
    throw InputError(e.field(), e.value(), e.allowed(), file);
  }
}
#endif

}  // namespace cure::io
