#pragma once
/// One stage of one case as the arrays that the packed solver works on.

#include <algorithm>
#include <cstddef>
#include <optional>
#include <string>
#include <type_traits>
#include <utility>
#include <variant>
#include <vector>

#include "cure/ensemble/lane_job.hpp"
#include "cure/heat/conduction.hpp"
#include "cure/numerics/schedule.hpp"
#include "cure/process/release_needs.hpp"
#include "cure/process/simulate.hpp"

namespace cure::ensemble {

/// Law and diffusion control of schemes that the packed solver knows.
struct PackedScheme {
  LawKind law;
  DiffusionKind diffusion;
  bool operator==(PackedScheme const&) const = default;
};

/// Nothing for schemes of several states, blends, and laws with a jump.
inline std::optional<PackedScheme> packed_scheme(kinetics::Resin<double> const& resin) {
  auto const* single = std::get_if<kinetics::SingleReaction<double>>(&resin.rate.reaction());
  if (single == nullptr || single->law.index() > 2) return std::nullopt;
  return PackedScheme{static_cast<LawKind>(single->law.index()),
                      static_cast<DiffusionKind>(single->diffusion.index())};
}

/// @param T_ref temperature at which rate constants are centred [K]
inline RateConstants rate_constants(process::Case const& c, double T_ref) {
  using R = RateConstants;
  RateConstants out;
  auto const set = [&out](R::Index i, double x) { out.value[i] = static_cast<float>(x); };
  auto const& resin = c.resin;
  auto const& single = std::get<kinetics::SingleReaction<double>>(resin.rate.reaction());
  auto const arrhenius = [&](kinetics::Arrhenius<double> const& k, R::Index at, R::Index E) {
    set(at, k.at(T_ref).value);
    set(E, k.E);
  };
  set(R::inverse_T_ref, 1.0 / T_ref);
  std::visit(
      [&](auto const& law) {
        if constexpr (requires { law.k; }) arrhenius(law.k, R::k1, R::E1);
        if constexpr (requires { law.k2; }) {
          arrhenius(law.k1, R::k1, R::E1);
          arrhenius(law.k2, R::k2, R::E2);
        }
        if constexpr (requires { law.m; }) set(R::m, law.m);
        if constexpr (requires { law.n; }) set(R::n, law.n);
      },
      single.law);
  std::visit(
      [&](auto const& d) {
        if constexpr (requires { d.C; }) {
          set(R::diffusion_1, d.C);
          set(R::diffusion_2, d.alpha_c0);
          set(R::diffusion_3, d.alpha_cT);
        } else if constexpr (requires { d.k_d0; }) {
          set(R::diffusion_1, d.k_d0);
          set(R::diffusion_2, d.C1);
          set(R::diffusion_3, d.C2);
        }
      },
      single.diffusion);
  set(R::Tg0, resin.glass_transition.Tg0);
  set(R::Tg_inf, resin.glass_transition.Tg_inf);
  set(R::lambda, resin.glass_transition.lambda);
  set(R::alpha_gel, resin.alpha_gel);
  if (resin.viscosity && resin.working_limit.viscosity) {
    set(R::eta0, resin.viscosity->eta0);
    set(R::eta_E, resin.viscosity->E);
    set(R::eta_A, resin.viscosity->A);
    set(R::eta_B, resin.viscosity->B);
    set(R::log_eta_limit, std::log(*resin.working_limit.viscosity));
  } else {
    set(R::working_alpha, resin.alpha_gel * resin.working_limit.fraction_of_gel.value_or(1.0));
    set(R::eta0, 1.0);
  }
  auto const needs = process::release_needs(c);
  set(R::alpha_min, needs.alpha_min);
  // Single precision, and products with it, stay finite.
  set(R::Tg_margin, std::min(needs.Tg_margin, 1e4));
  return out;
}

/// The wall of a stage, or a lumped mass as a wall of one cell.
class StageArrays {
 public:
  double duration = 0.0;                         ///< [s]
  std::vector<double> C, G, S, T, alpha, stops;  ///< as in LaneJob
  std::size_t first_reacting = 0;

  /// A point at constant temperature, to see how its cure goes on.
  void set_isothermal(double temperature, double degree_of_cure, double time) {
    clear(time);
    C = {1.0};
    S = {0.0};
    T = {temperature};
    alpha = {degree_of_cure};
    close();
  }

  /// A stage of a case with what the one before left.
  template <class WallStage>
  void set(process::Case const& c, process::CarriedState const& before, WallStage const& stage) {
    clear(stage.duration);
    if constexpr (std::is_same_v<WallStage, process::MixedMass>) {
      C = {stage.mass * c.resin.specific_heat.reference};
      S = {stage.mass * c.resin.heat_of_reaction};
      T = {before.resin_temperature};
      alpha = {before.resin_states[0]};
      outer_ = heat::Convection{.h = stage.h, .temperature = stage.ambient};
      area_out_ = stage.surface_area;
    } else {
      auto setup = process::stage_wall(c, stage);
      heat::Conduction const conduction(
          heat::make_mesh(heat::Geometry::cylinder, process::inner_radius(c, setup),
                          process::wall_layers(c, setup.bladder, setup.host)),
          heat::Insulated{}, heat::Insulated{});
      inner_ = std::move(setup.inner);
      outer_ = std::move(setup.outer);
      take(c, before, conduction);
    }
    close();
  }

  [[nodiscard]] bool lumped() const { return layers_.empty(); }

  /// What the solved stage hands on.
  void carry_into(process::CarriedState& after) const {
    if (lumped()) {
      after.resin_temperature = T[0];
      after.resin_states = {alpha[0]};
      return;
    }
    for (std::size_t l = 0; l < layers_.size(); ++l) {
      auto const& name = layers_[l];
      auto& into = name == "bladder" ? after.bladder
                   : name == "liner" ? after.liner
                   : name == "pipe"  ? after.pipe
                                     : after.ground;
      auto const at = [this](std::size_t i) { return T.begin() + static_cast<std::ptrdiff_t>(i); };
      into.assign(at(first_[l]), at(first_[l + 1]));
    }
    after.cure = alpha;
  }

  /// Puts this stage into a job; the arrays must outlive it.
  void describe(LaneJob& job) {
    job.C = C.data();
    job.G = G.data();
    job.S = S.data();
    job.T = T.data();
    job.alpha = alpha.data();
    job.stops = stops.data();
    job.stop_count = stops.size();
    job.constant_loads = heat::steady(inner_) && heat::steady(outer_);
    if (job.constant_loads) {
      loads_at(this, 0.0, 0.0, 0.0, job.loads);
    } else {
      job.load = &loads_at;
    }
    job.load_context = this;
  }

 private:
  /// Vectors keep their memory from stage to stage and case to case.
  void clear(double time) {
    duration = time;
    for (auto* v : {&C, &G, &S, &T, &alpha, &stops}) v->clear();
    first_reacting = 0;
    first_.clear();
    layers_.clear();
    inner_ = outer_ = heat::Insulated{};
    area_in_ = area_out_ = 1.0;
    half_in_ = half_out_ = 0.0;
  }

  void take(process::Case const& c, process::CarriedState const& before,
            heat::Conduction const& conduction) {
    auto const& mesh = conduction.mesh();
    C.assign(conduction.capacity().begin(), conduction.capacity().end());
    G.assign(conduction.conductance().begin(), conduction.conductance().end());
    first_ = mesh.first;
    for (auto const& layer : mesh.layers) {
      layers_.push_back(layer.name);
      auto const start = process::initial_temperature(c, before, layer);
      T.insert(T.end(), start.begin(), start.end());
    }
    auto const liner = mesh.find("liner");
    first_reacting = mesh.first[liner];
    for (std::size_t i = mesh.first[liner]; i < mesh.first[liner + 1]; ++i) {
      S.push_back(c.heat_of_laminate() * mesh.volume[i]);
    }
    alpha =
        before.cure.empty() ? std::vector<double>(S.size(), before.resin_states[0]) : before.cure;
    area_in_ = heat::surface_area(mesh.geometry, mesh.face.front());
    area_out_ = heat::surface_area(mesh.geometry, mesh.face.back());
    half_in_ = conduction.inner_half();
    half_out_ = conduction.outer_half();
  }

  void close() {
    auto corners = heat::corners(inner_);
    auto const more = heat::corners(outer_);
    corners.insert(corners.end(), more.begin(), more.end());
    stops = numerics::stops_within(std::move(corners), duration);
  }

  static void loads_at(void* context, double t, double T_first, double T_last, Loads& out) {
    auto const& a = *static_cast<StageArrays const*>(context);
    auto const in = heat::surface_load(a.inner_, t, a.area_in_, a.half_in_, T_first);
    auto const o = heat::surface_load(a.outer_, t, a.area_out_, a.half_out_, T_last);
    out = {in.G, in.Q, in.dG, in.dQ, o.G, o.Q, o.dG, o.dQ};
  }

  std::vector<std::size_t> first_;   ///< first cell of each layer, and the end
  std::vector<std::string> layers_;  ///< their names; empty for a lumped mass
  heat::Boundary inner_ = heat::Insulated{}, outer_ = heat::Insulated{};
  double area_in_ = 1.0, area_out_ = 1.0, half_in_ = 0.0, half_out_ = 0.0;
};

}  // namespace cure::ensemble
