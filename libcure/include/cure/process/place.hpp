#pragma once
/// Places in the wall by the names that pages give them, and what is there at a time:
///
///     double const T = at(history, "liner outer face", 3600.0).T;
///
/// Names: place_name.hpp. While the resin is one mass, every place of the liner is in it.
///
/// At a face, and in the middle of a layer, T and alpha lie on the straight line through the two
/// nodes next to it, at a face on that layer's side of any contact resistance: second order, as the
/// solution itself. Between columns nothing is interpolated.

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "cure/error.hpp"
#include "cure/process/history.hpp"
#include "cure/process/place_name.hpp"
#include "cure/range.hpp"

namespace cure::process {

/// What is at a place.
struct Local {
  double T = 0.0;                                           ///< [K]
  double alpha = std::numeric_limits<double>::quiet_NaN();  ///< [-]; NaN where there is no resin
};

/// The same at many times.
struct LocalTrace {
  Eigen::VectorXd T;      ///< [K]
  Eigen::VectorXd alpha;  ///< [-]; NaN where there is no resin
};

namespace detail {

/// A place among the cells of a stage: a value is that of the first, and `share` of the way on to
/// the second.
struct Between {
  std::size_t first = 0, second = 0;
  double share = 0.0;

  [[nodiscard]] double operator()(double a, double b) const { return a + share * (b - a); }
};

/// Column of a section's angle or distance. @throws InputError
inline std::size_t column_of(heat::SectionMesh const& section, Place const& place) {
  bool const around = section.section == heat::Section::around;
  auto const& wanted = around ? place.angle : place.distance;
  double const low = section.edge.front(), high = section.edge.back();
  if (!wanted) {
    throw InputError("place", "\"" + place.name() + "\"",
                     "one with its column, such as \"" + place.name() +
                         (around ? ", 6 o'clock\"" : ", 250 mm along\""));
  }
  double x = *wanted;
  if (around) {
    // The half that is not there is the mirror of the one that is.
    x -= full_turn * std::floor((x - low) / full_turn);
    if (!section.closed && x > high) x = full_turn - x;
  }
  double const slack = 1e-9 * (high - low);
  if (!(x >= low - slack && x <= high + slack)) {
    double const scale = around ? 360.0 / full_turn : 1e3;
    throw InputError("place", "\"" + place.name() + "\"",
                     Range{.low = scale * low, .high = scale * high}.text() +
                         (around ? " degrees from the invert" : " mm along"));
  }
  auto const above = std::upper_bound(section.edge.begin() + 1, section.edge.end() - 1, x);
  return static_cast<std::size_t>(above - section.edge.begin()) - 1;
}

/// Where a place is in a stage; nothing where the stage does not have it. @throws InputError for a
/// section, when the place does not say which column
inline std::optional<Between> find(StageHistory const& stage, Place const& place) {
  if (stage.lumped()) {
    bool const in_mass = place.part == Part::mixed_mass || place.part == Part::liner;
    return in_mass ? std::optional(Between{}) : std::nullopt;
  }
  auto const m = stage.columns();
  auto const column = stage.section ? column_of(*stage.section, place) : 0;
  auto const& mesh = stage.section ? stage.section->column[column] : stage.mesh;
  auto const l = mesh.find(std::string(name(place.part)));
  if (l == mesh.layers.size()) return std::nullopt;
  auto const first = mesh.first[l], last = mesh.first[l + 1] - 1;
  if (first == last) return Between{first * m + column, first * m + column, 0.0};
  double const inner = mesh.face[first], outer = mesh.face[last + 1];
  double const r = place.position == Position::inner_face   ? inner
                   : place.position == Position::outer_face ? outer
                                                            : 0.5 * (inner + outer);
  std::size_t i = first;
  while (i + 2 <= last && mesh.node[i + 1] < r) ++i;
  return Between{i * m + column, (i + 1) * m + column,
                 (r - mesh.node[i]) / (mesh.node[i + 1] - mesh.node[i])};
}

/// Number of a cell among the reacting ones; nothing for one without resin.
inline std::optional<std::size_t> reacting_number(StageHistory const& stage, std::size_t cell) {
  if (stage.resin.empty()) {
    auto const j = cell - stage.first_reacting;
    return cell >= stage.first_reacting && j < stage.reacting ? std::optional(j) : std::nullopt;
  }
  auto const found = std::find(stage.resin.begin(), stage.resin.end(), cell);
  if (found == stage.resin.end()) return std::nullopt;
  return static_cast<std::size_t>(found - stage.resin.begin());
}

/// What a state of a stage has there.
inline Local local(StageHistory const& stage, std::span<double const> state, Between const& place) {
  Local here{place(state[place.first], state[place.second])};
  auto const a = reacting_number(stage, place.first), b = reacting_number(stage, place.second);
  if (a && b) {
    auto const x = place(state[stage.cells + *a], state[stage.cells + *b]);
    here.alpha = std::clamp(x, 0.0, 1.0);
  }
  return here;
}

/// Number of the stage of a time on the job's clock: at the moment between two, the earlier one.
inline std::size_t stage_at(History const& history, double t) {
  std::size_t s = 0;
  while (s + 1 < history.size() && t > history[s].end()) ++s;
  return s;
}

/// The same, or the next one where only that has the place. @throws InputError
inline std::size_t stage_with(History const& history, Place const& place, double t) {
  auto s = stage_at(history, t);
  bool const at_its_end = s + 1 < history.size() && t == history[s].end();
  if (at_its_end && !find(history[s], place)) ++s;
  // The sum of the stages' durations may differ from the case's by round-off.
  double const slack = 1e-9 * (1.0 + history.back().end());
  bool const inside = t >= history.front().start - slack && t <= history.back().end() + slack;
  if (inside && find(history[s], place)) return s;
  std::string there;
  for (auto const& stage : history) {
    if (!find(stage, place)) continue;
    there += (there.empty() ? "" : "; ") + Range{.low = stage.start, .high = stage.end()}.text() +
             " s (" + name(stage.kind) + ")";
  }
  if (there.empty()) {
    throw InputError("place", "\"" + place.name() + "\"", "a place that the job has");
  }
  throw InputError("time", shown(t, 10) + " s at the place \"" + place.name() + "\"", there);
}

}  // namespace detail

/// What is at a place at times from mixing [s], in any order.
/// @throws InputError for a place or a time that the job does not have, numerics::Stopped
inline LocalTrace at(History const& history, Place const& place,
                     Eigen::Ref<Eigen::VectorXd const> const& times) {
  if (history.empty()) throw InputError("history", "no stages", "those of a prediction");
  LocalTrace trace{Eigen::VectorXd(times.size()), Eigen::VectorXd(times.size())};
  std::vector<double> state;
  std::optional<detail::Between> where;
  auto found_in = history.size();
  for (Eigen::Index i = 0; i < times.size(); ++i) {
    auto const s = detail::stage_with(history, place, times(i));
    auto const& stage = history[s];
    if (s != found_in) where = detail::find(stage, place);
    found_in = s;
    state.resize(stage.path.width());
    stage.path.state_at(times(i) - stage.start, state);
    auto const here = detail::local(stage, state, *where);
    trace.T(i) = here.T;
    trace.alpha(i) = here.alpha;
  }
  return trace;
}

/// The same at one time.
inline Local at(History const& history, Place const& place, double time) {
  auto const trace = at(history, place, Eigen::VectorXd::Constant(1, time));
  return {trace.T(0), trace.alpha(0)};
}

}  // namespace cure::process
