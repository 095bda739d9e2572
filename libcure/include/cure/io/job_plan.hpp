#pragma once
/// From a crew's answers to a case document, and to what is not known of the job. What was answered
/// has the usual ranges of a prediction; what was not has the usual value of the place, and a wider
/// range. All stand-ins and ranges are assumptions of this project, no source. Degrees Celsius,
/// millimetres and minutes throughout, as the document has them.

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/io/shape.hpp"
#include "cure/job/facts.hpp"
#include "cure/uncertain/stated.hpp"

namespace cure::io {

/// JSON that keeps its keys as they were put: a case that people read starts with what it is.

/// A case with its ranges, as a crew's answers make it.
// NOLINTNEXTLINE(bugprone-exception-escape): the library does not mark moves of ordered JSON
struct JobPlan {
  OrderedJson document;  ///< the case
  uncertain::Stated ranges;
  std::string place;               ///< name of the place that stands in
  std::vector<std::string> taken;  ///< what was not known, and what stands for it
  std::optional<double> mixed_at;  ///< [min after midnight]; nothing: times count from mixing
  double planned = 0.0;            ///< from mixing until in place, as planned [min]
};

/// Answers by key, understood and without doubt; what is missing is not known.
using Answers = std::map<std::string, job::Said, std::less<>>;

namespace detail {

using uncertain::Distribution;

/// Rounded as it is printed.
inline double to_digits(double x, int digits) {
  char text[64];
  std::snprintf(text, sizeof text, "%.*f", digits, x);
  return std::strtod(text, nullptr);
}

class Planning {
 public:
  Planning(Answers const& answers, std::string title, std::string file)
      : answers_(answers), file_(std::move(file)) {
    plan_.ranges.source = "the ranges given";
    auto const* resin = known<std::string>("resin");
    if (resin == nullptr) {
      throw InputError("resin", "not known",
                       "the resin and hardener: without them no time can be told", file_);
    }
    auto const* like = known<std::string>("like");
    place_ = &job::find_place(like != nullptr ? *like : "anywhere");
    if (like == nullptr) plan_.taken.push_back("place: " + std::string(place_->title));
    if (title.empty()) title = "Job at " + std::string(place_->title);
    plan_.document = {{"format", "libcure/case/1"}, {"title", title}, {"resin", *resin}};
  }

  JobPlan plan() && {
    add_pipe_and_liner();
    add_ground();
    add_temperatures();
    add_stages();
    uncertain("thickness", "Liner thickness", Distribution::normal,
              is_known("thickness") ? 0.08 : 0.18, {"liner.thickness_factor"});
    uncertain("contact", "Contact resistance", Distribution::lognormal, 0.7, {"contact_factor"});
    if (auto const* at = known<double>("mixed_at")) plan_.mixed_at = *at;
    plan_.place = place_->name;
    return std::move(plan_);
  }

 private:
  template <class T>
  [[nodiscard]] T const* known(std::string_view key) const {
    auto const found = answers_.find(key);
    return found == answers_.end() ? nullptr : std::get_if<T>(&found->second.value);
  }
  [[nodiscard]] bool is_known(std::string_view key) const {
    auto const found = answers_.find(key);
    return found != answers_.end() && found->second.value.index() != 0;
  }
  /// An answer, or what stands for it, which then is said.
  double or_take(std::string_view key, double stand_in, std::string words) {
    if (auto const* value = known<double>(key)) return *value;
    plan_.taken.push_back(std::move(words));
    return stand_in;
  }
  void uncertain(char const* name, char const* title, Distribution distribution, double spread,
                 std::vector<char const*> const& moves) {
    uncertain::StatedInput input{name, title, {}, distribution, spread};
    for (auto const* move : moves) input.moves.push_back(&ensemble::find_input(move));
    plan_.ranges.inputs.push_back(std::move(input));
  }
  static std::string celsius(double T) { return shown(T) + " \u00b0C"; }
  static std::string give_or_take(double spread) {
    return ", give or take " + shown(spread) + " K";
  }

  void add_pipe_and_liner() {
    std::string word = place_->pipe;
    if (auto const* pipe = known<std::string>("pipe")) {
      word = *pipe;
    } else {
      plan_.taken.push_back("pipe: " + word);
      uncertain("pipe", "Conductivity of the pipe", Distribution::lognormal, 0.5,
                {"pipe.conductivity_factor"});
    }
    auto const* pipe = std::find_if(std::begin(job::pipes), std::end(job::pipes),
                                    [&](auto const& p) { return word == p.word; });
    if (pipe == std::end(job::pipes)) {
      throw InputError("pipe", "\"" + word + "\"", "a word of the question", file_);
    }
    double const bore = or_take("bore", place_->bore, "bore: " + shown(place_->bore) + " mm");
    plan_.document["pipe"] = {{"material", pipe->material},
                              {"inner_diameter_mm", bore},
                              {"wall_mm", to_digits(std::max(pipe->wall_share * bore, 3.0), 1)}};
    double const thickness = or_take("thickness", 4.0, "liner 4 mm thick");
    double const length = or_take("length", 600.0, "liner 600 mm long");
    plan_.document["liner"] = {{"thickness_mm", thickness}, {"length_mm", length}};
  }

  void add_ground() {
    constexpr double measured_sd = 1.0;  // K, of a measured wall
    double const depth =
        or_take("depth", place_->depth, "depth: " + shown(place_->depth / 1e3) + " m");
    double const likely = to_digits(place_->ground_at(depth), 1);
    auto const* wall = known<double>("wall");
    ground_ = wall != nullptr ? *wall : likely;
    if (wall == nullptr) {
      plan_.taken.push_back("pipe's wall at " + celsius(likely) +
                            give_or_take(2.0 * place_->ground_sd) + ": measure it");
    }
    uncertain("ground", "Ground temperature", Distribution::normal,
              wall != nullptr ? measured_sd : place_->ground_sd,
              {"ground.temperature_offset_K", "initial_temperature.pipe_offset_K"});
    std::string word = place_->water;
    auto const* water = known<std::string>("water");
    if (water != nullptr) {
      word = *water;
    } else {
      plan_.taken.push_back("ground: " + word);
    }
    uncertain("soil", "Conductivity of the ground", Distribution::lognormal,
              water != nullptr ? 0.2 : 0.5, {"ground.conductivity_factor"});
    plan_.document["ground"] = {{"material", word == "dry"    ? "dry-sand"
                                             : word == "damp" ? "moist-sand"
                                                              : "saturated-sand"},
                                {"temperature_C", ground_}};
    if (word == "seeping" || word == "running") {
      // W/(m2 K) of water that moves behind the wall.
      plan_.document["ground"]["groundwater"] = {{"h_W_m2K", word == "seeping" ? 50.0 : 300.0},
                                                 {"temperature_C", ground_}};
      // Standing to the surface at most.
      plan_.document["release"] = {{"bears", {{"water_head_m", to_digits(depth / 1e3, 2)}}}};
    }
  }

  void add_temperatures() {
    constexpr double air_spread = 3.0, unknown_air = 6.0, stored = 6.0, mixed = 2.0;  // K
    air_ =
        or_take("air", place_->air, "air at " + celsius(place_->air) + give_or_take(unknown_air));
    uncertain("air", "Air temperature", Distribution::uniform,
              is_known("air") ? air_spread : unknown_air,
              {"ambient_offset_K", "initial_temperature.fibre_offset_K"});
    double const resin =
        or_take("resin_temperature", air_,
                "resin as the air" + give_or_take(stored) + ": measure it in the cans");
    uncertain("resin_temperature", "Resin temperature at mixing", Distribution::uniform,
              is_known("resin_temperature") ? mixed : stored,
              {"initial_temperature.resin_offset_K"});
    double const packer = packer_temperature();
    plan_.document["initial_temperature_C"] = {{"air", air_},
                                               {"resin", resin},
                                               {"fibre", air_},
                                               {"packer", packer},
                                               {"pipe", pipe_temperature()}};
  }

  double packer_temperature() {
    double T = air_, spread = 8.0;
    if (auto const* measured = known<double>("packer")) {
      T = *measured;
      spread = 3.0;
    } else {
      auto const* where = known<std::string>("packer");
      std::string words = "packer";
      if (where != nullptr && *where == "heated") {
        words = "heated packer";
        T = 20.0;
        spread = 5.0;
      } else if (where != nullptr) {
        words = "packer from the " + *where;
        T = air_ + (*where == "van" ? 2.0 : *where == "sun" ? 15.0 : 0.0);
        spread = *where == "van" ? 4.0 : *where == "sun" ? 10.0 : 3.0;
      }
      plan_.taken.push_back(words + " at " + celsius(T) + give_or_take(spread));
    }
    uncertain("packer", "Packer temperature", Distribution::uniform, spread,
              {"initial_temperature.packer_offset_K"});
    return T;
  }

  /// The pipe starts between the ground and the hot water that went through it.
  double pipe_temperature() {
    auto const* hot = known<std::pair<double, double>>("hot_water");
    if (hot == nullptr) return ground_;
    // The ground takes the heat back within hours; half an hour is short for that (assumption).
    double const left = (hot->first - ground_) * std::exp2(-hot->second / 30.0);
    char kelvin[32];
    std::snprintf(kelvin, sizeof kelvin, "%.0f", left);
    plan_.taken.push_back("pipe still " + std::string(kelvin) +
                          " K warmer at first from the hot water, or not at all; no faster release "
                          "is counted on it");
    uncertain("hot_water", "Warmth left in the pipe", Distribution::uniform,
              std::min(std::max(std::abs(left) / 2.0, 0.5), 30.0),
              {"initial_temperature.pipe_offset_K"});
    return to_digits(ground_ + left / 2.0, 1);
  }

  void add_stages() {
    constexpr double first_mixed = 4.0;      // min in the pouch before the wet-out
    constexpr double longest_hold = 2880.0;  // min
    constexpr double sun = 300.0;            // W/m2 on the wet-out, where the packer lay in the sun
    plan_.planned =
        or_take("in_place", 20.0, "in place 20 min after mixing, up to half as long again");
    if (!is_known("in_place")) {
      uncertain("duration", "Time until in place", Distribution::lognormal, 0.25,
                {"mixed_mass.duration_factor", "wet_out.duration_factor"});
    }
    double const mixed = std::min(first_mixed, plan_.planned / 3.0);
    OrderedJson wet_out{{"kind", "wet_out"}, {"duration_min", plan_.planned - mixed}};
    if (auto const* where = known<std::string>("packer"); where != nullptr && *where == "sun") {
      wet_out["absorbed_sun_W_m2"] = sun;
      plan_.taken.push_back("sun on the wet-out, " + shown(sun) + " W/m\u00b2 taken up");
    }
    auto const* fill = known<std::pair<double, double>>("fill");
    if (fill == nullptr) plan_.taken.emplace_back("bladder filled with air as it is outside");
    OrderedJson held{{"kind", "held"},
                     {"duration_min", longest_hold},
                     {"ends", "at_release"},
                     {"fill_temperature_C", fill != nullptr ? fill->first : air_},
                     {"h_W_m2K", fill != nullptr ? fill->second : job::fills[0].h}};
    uncertain("fill", "Temperature of the fill", Distribution::uniform, 3.0,
              {"fill_temperature_offset_K"});
    OrderedJson first{{"kind", "mixed_mass"}, {"duration_min", mixed}};
    plan_.document["stages"] = OrderedJson::array({first, wet_out, held});
  }

  Answers const& answers_;
  std::string file_;
  job::Place const* place_ = nullptr;
  double ground_ = 0.0, air_ = 0.0;  ///< [degC]
  JobPlan plan_;
};

}  // namespace detail

/// The job that answers describe. The case may still be refused when it is read.
/// @param title of the case; empty: says the place. @param file where the answers come from, for
/// messages
/// @throws InputError where the resin is not known
CURE_FUNCTION JobPlan plan_job(Answers const& answers, std::string title = {},
                               std::string file = {});
#if CURE_DEFINES(READINGS)
CURE_FUNCTION JobPlan plan_job(Answers const& answers, std::string title, std::string file) {
  return detail::Planning(answers, std::move(title), std::move(file)).plan();
}
#endif

}  // namespace cure::io
