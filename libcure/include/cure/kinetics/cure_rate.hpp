#pragma once
/// One interface to every cure scheme: states, slopes, and the Jacobian that an implicit step
/// needs. Schemes of one state return their derivatives in closed form; for those of several states
/// the Jacobian comes from dual numbers, exact as well.

#include <array>
#include <concepts>
#include <cstddef>
#include <type_traits>
#include <utility>
#include <variant>
#include <vector>

#include "cure/kinetics/reaction.hpp"
#include "cure/scalar.hpp"

namespace cure::kinetics {

/// Slopes f of the K states at a point, df/dT and df/dx.
struct StateSlopes {
  std::array<double, max_states> f{};
  std::array<double, max_states> dT{};
  std::array<std::array<double, max_states>, max_states> dx{};  ///< dx[i][k] = df_i/dx_k
};

template <class Parameter>
class CureRate {
 public:
  CureRate() = default;
  /// Any of the schemes of Reaction, or a rate law alone.
  template <class Scheme>
  requires(std::constructible_from<Reaction<Parameter>, Scheme> ||
           std::constructible_from<RateLaw<Parameter>, Scheme>)
      CureRate(Scheme scheme) {  // NOLINT(google-explicit-constructor): a scheme is one
    if constexpr (std::constructible_from<Reaction<Parameter>, Scheme>) {
      reaction_ = std::move(scheme);
    } else {
      reaction_ = SingleReaction<Parameter>{std::move(scheme), {}};
    }
  }
  CureRate(RateLaw<Parameter> law, DiffusionControl<Parameter> diffusion)
      : reaction_(SingleReaction<Parameter>{std::move(law), std::move(diffusion)}) {}

  [[nodiscard]] Reaction<Parameter> const& reaction() const { return reaction_; }

  /// Number of states, the first of which is the degree of cure.
  [[nodiscard]] std::size_t states() const {
    return std::visit(
        [](auto const& r) -> std::size_t {
          if constexpr (is_single<decltype(r)>) {
            return 1;
          } else {
            return r.states();
          }
        },
        reaction_);
  }

  /// States of the fresh mix with degree of cure alpha0.
  [[nodiscard]] std::vector<double> initial(double alpha0) const {
    return std::visit(
        [&](auto const& r) -> std::vector<double> {
          if constexpr (is_single<decltype(r)>) {
            return {alpha0};
          } else {
            return r.initial(alpha0);
          }
        },
        reaction_);
  }

  /// Slopes of all states at T [K]; x and f hold states() numbers.
  template <class Scalar>
  void slopes(Scalar const& T, Scalar const* x, Scalar* f) const;

  /// Slopes with their Jacobian.
  [[nodiscard]] StateSlopes at(double T, double const* x) const;

  bool operator==(CureRate const&) const = default;

 private:
  template <class R>
  static constexpr bool is_single =
      std::is_same_v<std::remove_cvref_t<R>, SingleReaction<Parameter>> ||
      std::is_same_v<std::remove_cvref_t<R>, BlendedReaction<Parameter>> ||
      std::is_same_v<std::remove_cvref_t<R>, OwnRate<Parameter>>;
  Reaction<Parameter> reaction_;
};

template <class Parameter>
template <class Scalar>
void CureRate<Parameter>::slopes(Scalar const& T, Scalar const* x, Scalar* f) const {
  std::visit(
      [&](auto const& r) {
        if constexpr (is_single<decltype(r)>) {
          f[0] = r.rate(T, x[0]).value;
        } else {
          r.slopes(T, x, f);
        }
      },
      reaction_);
}

template <class Parameter>
StateSlopes CureRate<Parameter>::at(double T, double const* x) const {
  using D = Dual<max_states + 1>;
  StateSlopes out;
  std::visit(
      [&](auto const& r) {
        if constexpr (is_single<decltype(r)>) {
          auto const p = r.rate(T, x[0]);
          out.f[0] = p.value;
          out.dT[0] = p.dT;
          out.dx[0][0] = p.dalpha;
        } else {
          auto const n = r.states();
          std::array<D, max_states> X, F;
          for (std::size_t k = 0; k < n; ++k) X[k] = D::variable(x[k], k);
          r.slopes(D::variable(T, max_states), X.data(), F.data());
          for (std::size_t i = 0; i < n; ++i) {
            out.f[i] = F[i].value;
            out.dT[i] = F[i].derivative[max_states];
            for (std::size_t k = 0; k < n; ++k) out.dx[i][k] = F[i].derivative[k];
          }
        }
      },
      reaction_);
  return out;
}

// Targets that link libcure/src compile these once.
#ifdef CURE_COMPILED
extern template class CureRate<double>;
extern template void CureRate<double>::slopes(double const&, double const*, double*) const;
#endif

}  // namespace cure::kinetics
