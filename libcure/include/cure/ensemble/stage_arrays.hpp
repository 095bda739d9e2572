#pragma once
/// One stage of one case as the arrays that the packed solver works on.

#include <algorithm>
#include <cstddef>
#include <optional>
#include <span>
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
  std::size_t law, diffusion;  ///< numbers in kinetics::RateLaw and kinetics::DiffusionControl
  std::size_t form;            ///< of the law, below packed_forms
  bool operator==(PackedScheme const&) const = default;
};

/// Nothing for schemes of several states, blends, and laws with a jump.
inline std::optional<PackedScheme> packed_scheme(kinetics::Resin<double> const& resin) {
  auto const* single = std::get_if<kinetics::SingleReaction<double>>(&resin.rate.reaction());
  if (single == nullptr) return std::nullopt;
  return std::visit(
      [&]<class Law>(Law const& law) -> std::optional<PackedScheme> {
        if constexpr (!kinetics::serves_packs<Law>()) return std::nullopt;
        std::size_t form = 0;
        if constexpr (kinetics::form_count<Law>() > 1) {
          form = std::min<std::size_t>(law.form(), packed_forms<Law>() - 1);
        }
        return PackedScheme{single->law.index(), single->diffusion.index(), form};
      },
      single->law);
}

/// @param T_ref temperature at which rate constants are centred [K]
inline RateConstants rate_constants(process::Case const& c, process::ReleaseNeeds const& needs,
                                    double T_ref) {
  using R = RateConstants;
  RateConstants out;
  auto const set = [&out](R::Index i, double x) { out.value[i] = static_cast<float>(x); };
  auto const& resin = c.resin;
  auto const& single = std::get<kinetics::SingleReaction<double>>(resin.rate.reaction());
  set(R::inverse_T_ref, 1.0 / T_ref);
  auto const put_all = [&](auto const& constants, R::Index first) {
    put_constants(constants, T_ref,
                  [&](std::size_t i, double x) { set(static_cast<R::Index>(first + i), x); });
  };
  std::visit(
      [&]<class Law>(Law const& law) {
        if constexpr (kinetics::serves_packs<Law>()) put_all(law, R::law);
      },
      single.law);
  std::visit([&](auto const& d) { put_all(d, R::diffusion); }, single.diffusion);
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
  set(R::alpha_min, needs.alpha_min);
  // Single precision, and products with it, stay finite.
  set(R::Tg_margin, std::min(needs.Tg_margin, 1e4));
  return out;
}

/// The wall of a stage, or a lumped mass as a wall of one cell.
class StageArrays {
 public:
  double duration = 0.0;                   ///< [s]
  std::vector<double> S, T, alpha, stops;  ///< as in LaneJob
  std::size_t first_reacting = 0;

  /// A point at constant temperature, to see how its cure goes on.
  void set_isothermal(double temperature, double degree_of_cure, double time) {
    set_lumped(1.0, 0.0, temperature, degree_of_cure, heat::Insulated{}, 1.0, time);
  }

  /// A stage of a case with what the one before left.
  template <class WallStage>
  void set(process::Case const& c, process::CarriedState const& before, WallStage const& stage) {
    if constexpr (std::is_same_v<WallStage, process::MixedMass>) {
      set_lumped(stage.mass * c.resin.specific_heat.reference,
                 stage.mass * c.resin.heat_of_reaction, before.resin_temperature,
                 before.resin_states[0],
                 heat::Convection{.h = stage.h, .temperature = stage.ambient}, stage.surface_area,
                 stage.duration);
    } else {
      clear(stage.duration);
      wall_ = process::conduction_of(c, process::stage_wall(c, before.clock, stage));
      auto const& mesh = wall_->mesh();
      process::add_initial_temperatures(c, before, mesh, T);
      auto const liner = mesh.find("liner");
      first_reacting = mesh.first[liner];
      for (std::size_t i = mesh.first[liner]; i < mesh.first[liner + 1]; ++i) {
        S.push_back(c.heat_of_laminate() * mesh.volume[i]);
      }
      process::add_initial_cure(before, S.size(), alpha);
      stops = numerics::stops_within(wall_->corners(), duration);
    }
  }

  [[nodiscard]] bool lumped() const { return !wall_; }
  [[nodiscard]] std::size_t cells() const { return T.size(); }
  [[nodiscard]] std::span<double const> C() const {
    return lumped() ? std::span<double const>(&mass_C_, 1) : wall_->capacity();
  }
  [[nodiscard]] std::span<double const> G() const {
    return lumped() ? std::span<double const>() : wall_->conductance();
  }

  /// What the solved stage hands on.
  void carry_into(process::CarriedState& after) const {
    if (!lumped()) return after.take(wall_->mesh(), 1, T, alpha);
    after.resin_temperature = T[0];
    after.resin_states = {alpha[0]};
  }

  /// Puts this stage into a job; the arrays must outlive it.
  void describe(LaneJob& job) {
    job.C = C().data();
    job.G = G().data();
    job.S = S.data();
    job.T = T.data();
    job.alpha = alpha.data();
    job.stops = stops.data();
    job.stop_count = stops.size();
    job.constant_loads = lumped() ? heat::steady(around_)
                                  : heat::steady(wall_->inner()) && heat::steady(wall_->outer());
    if (job.constant_loads) {
      loads_at(this, 0.0, 0.0, 0.0, job.loads);
    } else {
      job.load = &loads_at;
    }
    job.load_context = this;
  }

 private:
  void set_lumped(double C, double source, double temperature, double degree_of_cure,
                  heat::Boundary around, double area, double time) {
    clear(time);
    mass_C_ = C;
    S = {source};
    T = {temperature};
    alpha = {degree_of_cure};
    around_ = std::move(around);
    area_ = area;
    stops = numerics::stops_within(heat::corners(around_), duration);
  }

  /// Vectors keep their memory from stage to stage and case to case.
  void clear(double time) {
    duration = time;
    for (auto* v : {&S, &T, &alpha, &stops}) v->clear();
    first_reacting = 0;
    wall_.reset();
  }

  static void loads_at(void* context, double t, double T_first, double T_last, Loads& out) {
    auto const& a = *static_cast<StageArrays const*>(context);
    if (a.lumped()) {
      out = {{}, heat::surface_load(a.around_, t, a.area_, 0.0, T_last)};
    } else {
      out = {a.wall_->inner_load(t, T_first), a.wall_->outer_load(t, T_last)};
    }
  }

  std::optional<heat::Conduction> wall_;       ///< nothing for a lumped mass
  double mass_C_ = 1.0, area_ = 0.0;           ///< of a lumped mass [J/K], [m2]
  heat::Boundary around_ = heat::Insulated{};  ///< what it stands in
};

}  // namespace cure::ensemble
