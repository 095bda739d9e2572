// The answer to a case: what `libcure predict --json` writes, the page, and what pictures draw.
#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "answered.hpp"
#include "cure/io/answer_file.hpp"
#include "cure/io/page_file.hpp"
#include "cure/process/history_arrays.hpp"
#include "cure/process/place.hpp"
#include "request.hpp"

namespace cure::web {

namespace {

constexpr int curve_points = 97, profile_times = 49;

Json rounded(std::vector<double> const& values, double scale) {
  Json list = Json::array();
  for (double const v : values) list.push_back(std::round(scale * v) / scale);
  return list;
}

/// The held wall over time: radius and layer of each cell, temperature and degree of cure.
Json wall_json(process::StageHistory const& stage, double until) {
  double const span = std::min(stage.path.times().back(), until - stage.start);
  if (stage.lumped() || stage.section || !(span > 0.0)) return nullptr;
  // Close together at first, where much happens.
  Eigen::VectorXd at(profile_times);
  for (int i = 0; i < profile_times; ++i) {
    double const x = static_cast<double>(i) / (profile_times - 1);
    at(i) = span * x * x;
  }
  auto const s = process::sample(stage, at);
  Json radius = Json::array(), layers = Json::array(), T = Json::array(), alpha = Json::array();
  for (std::size_t c = 0; c < stage.cells; ++c) {
    radius.push_back(std::round(1e5 * stage.radius(c)) / 1e2);
    layers.push_back(stage.layer(c).name);
  }
  std::vector<double> times;
  for (int i = 0; i < profile_times; ++i) {
    times.push_back((at(i) + stage.start) / 60.0);
    std::vector<double> celsius, cure;
    for (Eigen::Index c = 0; c < s.temperature.cols(); ++c) {
      celsius.push_back(s.temperature(i, c) - zero_celsius);
    }
    for (Eigen::Index c = 0; c < s.alpha.cols(); ++c) cure.push_back(s.alpha(i, c));
    T.push_back(rounded(celsius, 1e2));
    alpha.push_back(rounded(cure, 1e4));
  }
  return {{"time_min", rounded(times, 1e2)},     {"radius_mm", radius}, {"layer", layers},
          {"first_resin", stage.first_reacting}, {"temperature_C", T},  {"degree_of_cure", alpha}};
}

/// Temperature and degree of cure of the liner's faces and middle from mixing on; null of a
/// section, whose columns differ.
Json curves_json(process::History const& history, double until) {
  for (auto const& stage : history) {
    if (stage.section) return nullptr;
  }
  Json curves = Json::object();
  Eigen::VectorXd at(curve_points);
  double const end = std::min(history.back().end(), until);
  for (int i = 0; i < curve_points; ++i) {
    double const x = static_cast<double>(i) / (curve_points - 1);
    at(i) = end * x * x;
  }
  std::vector<double> times(at.data(), at.data() + at.size());
  for (double& t : times) t /= 60.0;
  curves["time_min"] = rounded(times, 1e2);
  for (auto const* place : {"liner inner face", "liner middle", "liner outer face"}) {
    auto const found = process::at(history, place, at);
    std::vector<double> celsius, cure;
    for (Eigen::Index i = 0; i < at.size(); ++i) {
      celsius.push_back(found.T(i) - zero_celsius);
      cure.push_back(found.alpha(i));
    }
    curves[place] = {{"temperature_C", rounded(celsius, 1e2)},
                     {"degree_of_cure", rounded(cure, 1e4)}};
  }
  return curves;
}

/// What happens until a while after the release, or all of it where there is none.
Json picture_json(decide::Answer const& a) {
  auto const& history = a.prediction.history;
  double until = history.back().end();
  if (a.decision.release_time) until = std::min(until, 1.25 * *a.decision.release_time);
  Json picture{{"wall", nullptr}, {"curves", curves_json(history, until)}};
  for (auto const& stage : history) {
    if (stage.kind == process::StageKind::held) picture["wall"] = wall_json(stage, until);
  }
  return picture;
}

}  // namespace

Json answered(process::Case const& c, decide::Options const& options, page::Notes const& notes,
              bool picture, job::Times const* times) {
  auto const a = decide::answer(c, options);
  Json found{{"verdict", io::answer_json(c, a)},
             {"page", io::page_json(page::page_of(c, a, notes))}};
  if (picture) found["picture"] = picture_json(a);
  if (times != nullptr) {
    found["headline"] = job::headline(a, *times);
    found["moments"] = io::moments_json(job::moments(a, *times));
  }
  return found;
}

Json answer_call(Json const& request) {
  io::Reader r(request, "", "request");
  r.skip("call");
  auto const name = text_or(r, "name", "case");
  auto const c = case_of(r, name);
  auto options = options_of(r);
  options.stated = stated_of(r);
  bool const picture = flag(r, "picture");
  page::Notes const notes{name, text_or(r, "changed", "")};
  r.finish();
  return answered(c, options, notes, picture, nullptr);
}

}  // namespace cure::web
