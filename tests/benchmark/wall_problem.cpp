/// Writes one wall stage of a case as plain numbers (see peer.h), for solvers that are not ours.
///   wall_problem CASE MODELS OUTPUT [CELLS [STAGE [HOURS]]]

#include <cmath>
#include <fstream>
#include <iostream>
#include <span>

#include "cure/process/release_needs.hpp"
#include "stage_wall.hpp"

namespace {

using cure::InputError;

void write(std::ostream& out, char const* name, std::span<double const> values) {
  out << name << ' ' << values.size();
  for (double const x : values) out << ' ' << std::hexfloat << x;
  out << '\n';
}

void write(std::ostream& out, char const* name, std::initializer_list<double> values) {
  write(out, name, std::span(values.begin(), values.size()));
}

void write_rate(std::ostream& out, cure::kinetics::CureRate<double> const& rate) {
  using namespace cure::kinetics;
  auto const* single = std::get_if<SingleReaction<double>>(&rate.reaction());
  auto const* law = single != nullptr ? std::get_if<KamalSourour<double>>(&single->law) : nullptr;
  if (law == nullptr) throw InputError("rate.law", "another", "kamal-sourour");
  auto const constant = [&](char const* name, Arrhenius<double> const& k) {
    write(out, name, {k.k_ref, k.E / cure::gas_constant, k.inverse_T_ref});
  };
  constant("k1", law->k1);
  constant("k2", law->k2);
  write(out, "orders", {law->m, law->n});
  if (auto const* factor = std::get_if<ChernPoehlein<double>>(&single->diffusion)) {
    write(out, "diffusion", {factor->C, factor->alpha_c0, factor->alpha_cT});
  } else if (std::holds_alternative<ChemicalControl>(single->diffusion)) {
    write(out, "diffusion", {0.0, 0.0, 0.0});
  } else {
    throw InputError("diffusion.form", "another", "none or chern-poehlein");
  }
}

/// A minute to an hour in equal ratios, then to the end in equal steps [s]. The first minute is
/// left out: where two bodies have just met, temperature is steeper than any working tolerance.
/// @throws InputError for a duration too short for that
std::vector<double> sample_times(double duration) {
  if (!(duration >= 240.0))
    throw InputError("HOURS", std::to_string(duration / 3600.0), "4 min or more");
  std::vector<double> times;
  double const bend = std::min(3600.0, 0.5 * duration);
  for (int i = 0; i < 20; ++i) times.push_back(60.0 * std::pow(bend / 60.0, i / 19.0));
  for (int i = 1; i <= 20; ++i) times.push_back(bend + (duration - bend) * i / 20.0);
  return times;
}

void write_problem(std::ostream& out, cure::benchmark::StageWall const& stage) {
  auto const& c = stage.repair;
  auto const& mesh = stage.conduction.mesh();
  auto const liner = mesh.find("liner");
  auto const first = mesh.first[liner], reacting = mesh.first[liner + 1] - first;
  write(out, "layout",
        {static_cast<double>(mesh.size()), static_cast<double>(first),
         static_cast<double>(reacting)});
  write(out, "capacity", stage.conduction.capacity());
  write(out, "conductance", stage.conduction.conductance());
  std::vector<double> source;
  for (std::size_t j = 0; j < reacting; ++j) {
    source.push_back(c.heat_of_laminate() * mesh.volume[first + j]);
  }
  write(out, "source", source);
  auto const inner = stage.conduction.inner_load(0.0, stage.start.front());
  auto const outer = stage.conduction.outer_load(0.0, stage.start[mesh.size() - 1]);
  write(out, "inner", {inner.G, inner.Q});
  write(out, "outer", {outer.G, outer.Q});
  write_rate(out, c.resin.rate);
  write(out, "start", stage.start);
  write(out, "times", sample_times(stage.duration));
  auto const& glass = c.resin.glass_transition;
  auto const needs = cure::process::release_needs(c);
  write(out, "release", {needs.alpha_min, needs.Tg_margin, glass.Tg0, glass.Tg_inf, glass.lambda});
}

}  // namespace

int main(int argc, char** argv) try {
  if (argc < 4 || argc > 7) {
    throw InputError("usage", "", "wall_problem CASE MODELS OUTPUT [CELLS [STAGE [HOURS]]]");
  }
  auto const stage = cure::benchmark::stage_wall(
      argv[1], argv[2], argc > 4 ? std::stoul(argv[4]) : 0, argc > 5 ? argv[5] : "held",
      argc > 6 ? 3600.0 * std::stod(argv[6]) : 0.0);
  std::ofstream out(argv[3]);
  write_problem(out, stage);
  if (!out.flush()) throw InputError("OUTPUT", argv[3], "a file that can be written");
  return 0;
} catch (std::exception const& error) {
  std::cerr << "wall_problem: " << error.what() << '\n';
  return 2;
}
