#pragma once
/// A resin: rate law, heat of reaction, glass transition, gel point, viscosity, the properties of
/// the neat mix, and the criteria that its model file proposes. All values are SI and per kilogram
/// of resin (not of laminate).

#include <limits>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "cure/kinetics/cure_rate.hpp"
#include "cure/kinetics/glass_transition.hpp"
#include "cure/kinetics/stiffness.hpp"
#include "cure/kinetics/viscosity.hpp"

namespace cure::kinetics {

/// When the resin is no longer workable.
template <class Scalar>
struct WorkingLimit {
  std::optional<Scalar> viscosity;        ///< [Pa s]; used when the resin has a viscosity law
  std::optional<Scalar> fraction_of_gel;  ///< alpha / alpha_gel [-]; used otherwise

  bool operator==(WorkingLimit const&) const = default;
};

/// Where the model may be trusted.
struct ValidityRange {
  double temperature_min = 0.0;                                      ///< [K]
  double temperature_max = std::numeric_limits<double>::infinity();  ///< [K]
  double alpha_max = 1.0;                                            ///< [-]
  /// Largest Tg - T at which there is evidence that it still cures as its law says [K].
  double Tg_margin_max = std::numeric_limits<double>::infinity();

  bool operator==(ValidityRange const&) const = default;
};

/// What of a resin nobody measured, so that it is what its family does.
struct Evidence {
  bool cold_from_family = false;  ///< how far it cures once it turns to glass
  bool bulk_from_family = false;  ///< how it heats itself
  /// Between these temperatures measurements that were held back came out as foretold [K].
  std::optional<std::pair<double, double>> verified;

  /// Of a blend with another resin: nobody has verified that.
  void add(Evidence const& other) {
    cold_from_family = cold_from_family || other.cold_from_family;
    bulk_from_family = bulk_from_family || other.bulk_from_family;
    verified.reset();
  }

  bool operator==(Evidence const&) const = default;
};

template <class Scalar>
struct Resin {
  std::string id;
  std::string title;
  bool estimated = false;    ///< any rate constant is estimated, not published
  bool transcribed = false;  ///< its rate constants were read at second hand
  std::string assumed;       ///< what else decides and is no source's, "gelation, viscosity"
  std::vector<std::string> hazards;

  CureRate<Scalar> rate;
  Scalar initial_degree_of_cure{0.0};
  Scalar heat_of_reaction{0.0};          ///< [J/kg resin]
  LinearProperty<Scalar> density;        ///< [kg/m3]
  LinearProperty<Scalar> specific_heat;  ///< [J/(kg K)]
  LinearProperty<Scalar> conductivity;   ///< [W/(m K)]
  DiBenedetto<Scalar> glass_transition;
  Scalar alpha_gel{1.0};
  std::optional<CastroMacosko<Scalar>> viscosity;
  std::optional<ModulusDevelopment<Scalar>> modulus;
  std::optional<CureShrinkage<Scalar>> shrinkage;
  WorkingLimit<Scalar> working_limit;

  Scalar release_alpha_min{1.0};   ///< where the release is by conversion
  Scalar release_Tg_margin{0.0};   ///< the same, Tg above T [K]
  double Tg_above_midpoint = 0.0;  ///< of the method by which its Tg is known, see model_files [K]
  double temperature_limit = std::numeric_limits<double>::infinity();  ///< [K]
  ValidityRange validity;
  Evidence evidence;

  /// How far the resin is towards its working limit, as a function of T [K] and alpha: < 1
  /// workable,
  /// >= 1 not. Logarithms that no point changes are taken once.
  [[nodiscard]] auto working_progress() const {
    bool const by_viscosity = viscosity && working_limit.viscosity;
    auto const eta = by_viscosity ? *viscosity : CastroMacosko<Scalar>{Scalar(1.0)};
    Scalar const limit = by_viscosity ? *working_limit.viscosity : Scalar(1.0);
    Scalar const alpha_limit = alpha_gel * working_limit.fraction_of_gel.value_or(Scalar(1.0));
    return [by_viscosity, eta, log_eta0 = log(eta.eta0), log_limit = log(limit), alpha_limit](
               Scalar const& T, Scalar const& alpha) {
      return by_viscosity ? eta.progress(T, alpha, log_limit, log_eta0) : alpha / alpha_limit;
    };
  }
  [[nodiscard]] Scalar working_progress(Scalar const& T, Scalar const& alpha) const {
    return working_progress()(T, alpha);
  }

  /// No resin that is warmer and less cured is farther on than this. (Exponents that fall below
  /// zero could make the viscosity fall with cure.)
  [[nodiscard]] Scalar working_progress_at_most(Scalar const& T, Scalar const& alpha) const {
    if (!viscosity || !working_limit.viscosity) return working_progress(T, alpha);
    auto thickest = *viscosity;
    thickest.A = select(thickest.A < Scalar(0.0), Scalar(0.0), thickest.A);
    thickest.B = select(thickest.B < Scalar(0.0), Scalar(0.0), thickest.B);
    return thickest.progress(T, alpha, log(*working_limit.viscosity));
  }

  bool operator==(Resin const&) const = default;
};

}  // namespace cure::kinetics
