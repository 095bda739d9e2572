#pragma once
/// The stages of a case document.

#include <cstddef>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "cure/heat/boundary.hpp"
#include "cure/io/value_reader.hpp"
#include "cure/process/case.hpp"

namespace cure::io {

class StageReader {
 public:
  /// @param c everything of the case but its stages
  StageReader(ValueReader& values, process::Case const& c) : values_(values), c_(c) {}

  /// @throws InputError
  std::vector<process::Stage> read(Reader& d) {
    auto stages = d.objects("stages");
    if (stages.empty()) d.fail("stages", "an empty list", "at least one stage");
    std::vector<process::Stage> list;
    for (auto& r : stages) {
      auto const kind = r.choice("kind", {"mixed_mass", "wet_out", "held", "after_release"});
      auto stage = read_stage(r, kind);
      r.finish();
      if (!list.empty() && stage.index() <= list.back().index()) {
        r.fail("kind", "\"" + kind + "\"",
               "stages in the order mixed_mass, wet_out, held, after_release, each once");
      }
      list.push_back(std::move(stage));
    }
    return list;
  }

 private:
  /// A heat-transfer coefficient: given, or by a correlation.
  struct Coefficient {
    numerics::Schedule h;
    std::optional<heat::AirFilm> film;
  };

  process::Stage read_stage(Reader& r, std::string const& kind) {
    double const minutes = r.number("duration_min", in_unit(limits::duration, 60.0));
    double const seconds = 60.0 * minutes;
    if (kind == "mixed_mass") return mixed_mass(r, seconds);
    if (kind == "wet_out") return wet_out(r, seconds);
    if (kind == "held") return held(r, seconds);
    return after_release(r, seconds);
  }

  process::MixedMass mixed_mass(Reader& r, double seconds) {
    process::MixedMass s;
    s.duration = seconds;
    s.mass = values_.number_or(r, "mass_kg", limits::mass, c_.resin_in_liner(),
                               "the resin that the liner holds");
    // A pouch laid flat, 20 mm thick, both faces free.
    double const flat = 2.0 * s.mass / c_.resin.density.reference / 0.02;
    s.surface_area = values_.number_or(r, "surface_area_m2", limits::surface_area, flat,
                                       "a flat pouch 20 mm thick");
    s.h = values_.h_or(r, 8.0);
    s.ambient = values_.celsius_or(r, "ambient_temperature_C", c_.initial.air, "as the air");
    return s;
  }

  process::WetOut wet_out(Reader& r, double seconds) {
    process::WetOut s;
    s.duration = seconds;
    s.on_packer = !r.has("on") || r.choice("on", {"packer", "table"}) == "packer";
    heat::AirFilm film;
    film.diameter = c_.pipe.inner_diameter;
    auto [h, law] = coefficient(r, 10.0, film, true);
    if (law && !s.on_packer) {
      r.fail("h_W_m2K", "\"" + r.text("h_W_m2K") + "\"",
             "a number or a table, on a table: the correlations are those of a level cylinder");
    }
    s.h = std::move(h);
    s.film = std::move(law);
    s.ambient = values_.celsius_or(r, "ambient_temperature_C", c_.initial.air, "as the air");
    s.absorbed_sun =
        values_.schedule_or(r, "absorbed_sun_W_m2", limits::absorbed_sun, 1.0, 0.0, 0.0, "shade");
    if (!r.has("on")) values_.by_default(r.path("on"), "packer");
    radiation(r, s);
    return s;
  }

  /// Coefficients that are given usually have radiation in them; correlations never do.
  void radiation(Reader& r, process::WetOut& s) {
    auto const& range = limits::emissivity;
    if (r.has("emissivity")) {
      s.emissivity = r.number("emissivity", range);
    } else if (s.film) {
      s.emissivity = values_.number_or(r, "emissivity", range, 0.9, "wet resin, from memory");
    } else if (r.has("surroundings_temperature_C")) {
      r.fail("surroundings_temperature_C", "given", "only together with emissivity");
    }
    if (r.has("surroundings_temperature_C")) {
      s.surroundings =
          ValueReader::schedule(r, "surroundings_temperature_C", celsius_range, 1.0, zero_celsius);
    } else {
      s.surroundings = s.ambient;
      if (s.emissivity > 0.0) {
        values_.by_default(r.path("surroundings_temperature_C"), "as the ambient air");
      }
    }
  }

  process::Held held(Reader& r, double seconds) {
    process::Held s;
    s.duration = seconds;
    if (r.has("fill_cycle")) {
      if (r.has("fill_temperature_C")) {
        r.fail("fill_cycle", "given", "not together with fill_temperature_C");
      }
      s.fill_temperature = fill_cycle(r);
    } else {
      s.fill_temperature =
          values_.celsius_or(r, "fill_temperature_C", c_.initial.air, "as the air");
    }
    heat::AirFilm film;
    film.law = heat::AirFilm::Law::closed_air;
    film.diameter = 2.0 * (c_.bore_radius() - c_.bladder.thickness);
    auto [h, law] = coefficient(r, 10.0, film, false);
    if (law) {
      double const gauge =
          values_.number_or(r, "fill_gauge_pressure_bar", {.low = 0.0, .high = 10.0}, 1.0,
                            "common practice, no source");
      law->pressure += 1e5 * gauge;
    } else if (r.has("fill_gauge_pressure_bar")) {
      r.fail("fill_gauge_pressure_bar", "given", "only with h_W_m2K \"natural\"");
    }
    s.h = std::move(h);
    s.film = std::move(law);
    s.until_release =
        r.has("ends") &&
        r.choice("ends", {"at_duration", "at_release", "at_recommended_release"}) != "at_duration";
    return s;
  }

  /// {"start_C", "legs": [{"to_C", "rate_K_min", "hold_min"}, ...]}: heat or cool at a rate, hold.
  numerics::Schedule fill_cycle(Reader& r) {
    auto cycle = r.object("fill_cycle");
    double const start = values_.number_or(cycle, "start_C", celsius_range,
                                           celsius_from_kelvin(c_.initial.air), "as the air");
    std::vector<heat::CycleLeg> legs;
    auto given = cycle.objects("legs");
    if (given.empty()) cycle.fail("legs", "an empty list", "at least one leg");
    for (auto& leg : given) {
      double const to = leg.number("to_C", celsius_range);
      double const rate = leg.number("rate_K_min", {.low = 0.0, .high = 100.0, .above = true});
      double const hold = leg.number("hold_min", {.low = 0.0, .high = 1e6});
      leg.finish();
      legs.push_back({kelvin_from_celsius(to), rate / 60.0, 60.0 * hold});
    }
    cycle.finish();
    return heat::temperature_cycle(kelvin_from_celsius(start), legs);
  }

  process::AfterRelease after_release(Reader& r, double seconds) {
    process::AfterRelease s;
    s.duration = seconds;
    s.bore_temperature =
        values_.celsius_or(r, "bore_temperature_C", c_.ground.temperature.at(0.0), "as the ground");
    heat::AirFilm film;
    film.law = heat::AirFilm::Law::closed_air;
    film.diameter = 2.0 * c_.bore_radius();
    auto [h, law] = coefficient(r, 5.0, film, false);
    s.h = std::move(h);
    s.film = std::move(law);
    return s;
  }

  /// "h_W_m2K": a number, a table, "natural", or "wind" with "wind_m_s".
  Coefficient coefficient(Reader& r, double otherwise, heat::AirFilm film, bool open_air) {
    bool const named = r.has("h_W_m2K") && r.at("h_W_m2K", "a number").is_string();
    auto const law = !named     ? std::string()
                     : open_air ? r.choice("h_W_m2K", {"natural", "wind"})
                                : r.choice("h_W_m2K", {"natural"});
    if (law == "wind") {
      film.wind = ValueReader::schedule(r, "wind_m_s", limits::wind, 1.0, 0.0);
    } else if (open_air && r.has("wind_m_s")) {
      r.fail("wind_m_s", "given", "only with h_W_m2K \"wind\"");
    }
    if (named) return {0.0, std::move(film)};
    return {values_.h_or(r, otherwise), std::nullopt};
  }

  ValueReader& values_;
  process::Case const& c_;
};

}  // namespace cure::io
