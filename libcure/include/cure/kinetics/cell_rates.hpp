#pragma once
/// The rates of a scheme of one state at many cells at once: on packs, by the best instructions of
/// the machine, where the law serves packs, and cell by cell where it does not.

#include <cstddef>
#include <optional>
#include <span>
#include <utility>
#include <variant>
#include <vector>

#include "cure/kinetics/cell_rate_kernels.hpp"
#include "cure/kinetics/reaction.hpp"
#include "cure/numerics/instructions.hpp"

namespace cure::kinetics {

#ifdef CURE_COMPILED

// Compiled in libcure/src/vector, each with its own flags; an avx one is null where it cannot be.
extern RatesOfCells const rates_of_cells_baseline, rates_of_cells_avx2, rates_of_cells_avx512;

inline numerics::Compiled<RatesOfCells> compiled_rates() {
  return {rates_of_cells_baseline, rates_of_cells_avx2, rates_of_cells_avx512};
}

#else

inline numerics::Compiled<RatesOfCells> compiled_rates() {
  return {&rates_of_cells<numerics::own_register_bytes>, nullptr, nullptr};
}

#endif

/// A reaction as the packs take it; none where its law does not serve them.
inline std::optional<PlainReaction> plain(SingleReaction<double> const& reaction, double share) {
  PlainReaction p{reaction.law.index(), 0, reaction.diffusion.index(), share, {}, {}};
  std::visit([&]<class Control>(
                 Control const& d) { static_cast<detail::Held<Control>&>(p.controls).value = d; },
             reaction.diffusion);
  return std::visit(
      [&]<class Law>(Law const& law) -> std::optional<PlainReaction> {
        if constexpr (!serves_packs<Law>()) {
          return std::nullopt;
        } else {
          static_cast<detail::Held<Law>&>(p.laws).value = law;
          if constexpr (form_count<Law>() > 1) p.form = law.form();
          return p;
        }
      },
      reaction.law);
}

class CellRates {
 public:
  /// @throws InputError for instructions that this machine or build lacks
  explicit CellRates(Reaction<double> reaction,
                     numerics::Instructions instructions = numerics::Instructions::best)
      : reaction_(std::move(reaction)), packed_(compiled_rates().choose(instructions)) {
    auto const take = [this](SingleReaction<double> const& r, double share) {
      if (auto const p = plain(r, share)) plain_.push_back(*p);
    };
    std::size_t parts = 1;
    if (auto const* single = std::get_if<SingleReaction<double>>(&reaction_)) {
      take(*single, 1.0);
    } else if (auto const* blend = std::get_if<BlendedReaction<double>>(&reaction_)) {
      parts = blend->parts.size();
      for (auto const& part : blend->parts) take(part.reaction, part.share);
    }
    if (plain_.size() != parts) plain_.clear();
  }

  /// Rates [1/s] at temperatures T [K] and degrees of cure [-]; all spans are of one length.
  void values(std::span<double const> T, std::span<double const> alpha,
              std::span<double> value) const {
    at(T, alpha, value, {}, {});
  }

  /// Rates with their derivatives with T [1/(s K)] and alpha [1/s].
  void with_derivatives(std::span<double const> T, std::span<double const> alpha,
                        std::span<double> value, std::span<double> dT,
                        std::span<double> dalpha) const {
    at(T, alpha, value, dT, dalpha);
  }

 private:
  void at(std::span<double const> T, std::span<double const> alpha, std::span<double> value,
          std::span<double> dT, std::span<double> dalpha) const {
    if (T.empty()) return;
    if (!plain_.empty()) {
      return packed_(plain_.data(), plain_.size(),
                     {T.size(), T.data(), alpha.data(), value.data(),
                      dT.empty() ? nullptr : dT.data(), dalpha.empty() ? nullptr : dalpha.data()});
    }
    std::visit(
        [&](auto const& r) {
          if constexpr (requires { r.rate(T[0], alpha[0]); }) {
            for (std::size_t j = 0; j < T.size(); ++j) {
              auto const p = r.rate(T[j], alpha[j]);
              value[j] = p.value;
              if (dT.empty()) continue;
              dT[j] = p.dT;
              dalpha[j] = p.dalpha;
            }
          }
        },
        reaction_);
  }

  Reaction<double> reaction_;
  RatesOfCells packed_;
  std::vector<PlainReaction> plain_;
};

}  // namespace cure::kinetics
