#pragma once
/// The same job many times over, with what is not known exactly.

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <iterator>
#include <memory>
#include <optional>
#include <span>
#include <utility>
#include <variant>
#include <vector>

#include "cure/ensemble/service_times.hpp"
#include "cure/ensemble/simulate_many.hpp"
#include "cure/kinetics/uncertain_resin.hpp"
#include "cure/numerics/maps.hpp"
#include "cure/uncertain/moved_inputs.hpp"
#include "cure/uncertain/normal.hpp"
#include "cure/uncertain/sobol.hpp"
#include "cure/uncertain/stated.hpp"

namespace cure::uncertain {

/// What differs from sample to sample: the inputs of an ensemble, and draws of a resin.
class Draws {
 public:
  /// @param c whose resin is drawn. @param count a power of two. @param from of these, the first
  /// that is drawn: fewer are the first of more. @param threads 0 for one per processor
  /// @throws InputError
  Draws(process::Case const& c, Stated const& stated, std::size_t count, std::size_t from = 0,
        std::size_t threads = 1)
      : Draws(c, stated, points(c, stated, count).bottomRows(numerics::index(count - from)),
              threads) {}
  /// @param u points (samples, dimensions of points()), inside the unit cube
  Draws(process::Case const& c, Stated const& stated, Eigen::MatrixXd const& u, std::size_t threads)
      : count_(static_cast<std::size_t>(u.rows())) {
    auto const& resin = c.uncertain_resin;
    moved_ = moved_inputs(stated, u);
    if (!has_constants(c, stated)) return;
    numerics::RowMatrix const z =
        u.rightCols(numerics::index(resin.dimensions)).unaryExpr(&normal_quantile);
    constexpr std::size_t chunk = 64;  // a document is read for each row
    std::vector<std::vector<kinetics::Resin<double>>> drawn((count_ + chunk - 1) / chunk);
    ensemble::detail::in_chunks(count_, threads, chunk, [&] {
      return [&](std::size_t begin, std::size_t end) {
        drawn[begin / chunk] =
            resin.draws(std::span(z.data(), count_ * resin.dimensions)
                            .subspan(begin * resin.dimensions, (end - begin) * resin.dimensions),
                        end - begin);
      };
    });
    for (auto& some : drawn) std::move(some.begin(), some.end(), std::back_inserter(resins_));
    for (std::size_t i = 0; i < count_; ++i) resin_of_.push_back(static_cast<std::int64_t>(i));
  }

  /// One set for inputs and constants: two sets share their sequence and are not independent.
  [[nodiscard]] static Eigen::MatrixXd points(process::Case const& c, Stated const& stated,
                                              std::size_t count) {
    auto const constants = has_constants(c, stated) ? c.uncertain_resin.dimensions : 0;
    return unit_points(stated.inputs.size() + constants, count, stated.seed);
  }

  [[nodiscard]] std::size_t count() const { return count_; }

  /// Into the rows of a plan, which points to them.
  void fill(ensemble::RowPlan& plan) const {
    plan.inputs = moved_.inputs;
    plan.values = moved_.values;
    plan.rows = count_;
    for (auto const& resin : resins_) plan.resins.push_back(&resin);
    plan.resin_of = resin_of_;
  }

 private:
  static bool has_constants(process::Case const& c, Stated const& stated) {
    return stated.constants && c.uncertain_resin.known();
  }

  std::size_t count_;
  MovedInputs moved_;
  std::vector<kinetics::Resin<double>> resins_;
  std::vector<std::int64_t> resin_of_;
};

/// What is put on the release of a section's samples for their long steps, late in which its
/// temperatures creep [-]. Of 22 sections of every kind, 16 samples each, the 95 % side by
/// ensemble::row_tolerance was 0.7 % early to 0.6 % late of that by steps to 1e-3 K and 1e-6;
/// other times were within 0.06 %.
inline constexpr double section_release_share = 0.01;

/// Samples of a case: the rows of an ensemble.
class Samples {
 public:
  /// @param c must outlive the samples. @param count a power of two. @param from of these, the
  /// first that counts. @param threads to draw on. @throws InputError
  Samples(process::Case const& c, Stated const& stated, std::size_t count, std::size_t from = 0,
          std::size_t threads = 1)
      : Samples(c, std::make_shared<Draws const>(c, stated, count, from, threads)) {}
  /// @param draws of the same resin; cases that differ in other things share them
  Samples(process::Case const& c, std::shared_ptr<Draws const> draws)
      : case_(c), draws_(std::move(draws)) {}
  Samples(process::Case const&&, Stated const&, std::size_t, std::size_t = 0,
          std::size_t = 1) = delete;
  Samples(process::Case const&&, std::shared_ptr<Draws const>) = delete;

  [[nodiscard]] std::size_t count() const { return draws_->count(); }

  /// A section's release counts as later by section_release_share.
  [[nodiscard]] std::vector<ensemble::Outcome> outcomes(
      std::size_t threads = 0,
      process::Tolerance const& tolerance = ensemble::row_tolerance) const {
    ensemble::Plan plan;
    fill(plan, threads);
    plan.tolerance = tolerance;
    auto found = ensemble::simulate_many(plan);
    if (case_.section) {
      for (auto& o : found) o.release_time *= 1.0 + section_release_share;
    }
    return found;
  }

  /// Those of a search, which only tell a side: with looser steps; of a section on cells twice as
  /// wide too, each time and peak moved by as much as those of the case itself are by that. The
  /// answer to what was found takes outcomes().
  /// @param own what a whole prediction says of the case; looked at for a section only
  [[nodiscard]] std::vector<ensemble::Outcome> searched(process::Verdict const* own,
                                                        std::size_t threads) const {
    if (!case_.section || own == nullptr) return outcomes(threads, ensemble::sample_tolerance);
    auto c = process::on_wider_cells(case_);
    auto moved = Samples(c, draws_).outcomes(threads, ensemble::sample_tolerance);
    c.discretisation.tolerance = ensemble::sample_tolerance;
    auto const wide = process::predict_times(c);
    auto const ratio = [](std::optional<double> one, std::optional<double> other) {
      return one && other && *other > 0.0 ? *one / *other : 1.0;
    };
    double const working = ratio(own->working_time, wide.working_time);
    double const gel_first = ratio(own->gel_time_first, wide.gel_time_first);
    double const gel_last = ratio(own->gel_time_last, wide.gel_time_last);
    double const release = ratio(own->release_time, wide.release_time);
    for (auto& o : moved) {
      if (!o.failure.empty()) continue;
      o.working_time *= working;
      o.gel_time_first *= gel_first;
      o.gel_time_last *= gel_last;
      o.release_time *= release;
      o.peak_temperature += own->peak.temperature - wide.peak.temperature;
    }
    return moved;
  }

  /// When each is fit for service [s]; NaN: not within its stages.
  /// @param bladder_out when the bladder comes out [s]
  [[nodiscard]] std::vector<double> service_times(std::optional<double> bladder_out,
                                                  std::size_t threads = 0) const {
    ensemble::RowPlan plan;
    fill(plan, threads);
    return ensemble::service_times(plan, bladder_out);
  }

 private:
  void fill(ensemble::RowPlan& plan, std::size_t threads) const {
    plan.base = &case_;
    plan.threads = threads;
    draws_->fill(plan);
  }

  process::Case const& case_;
  std::shared_ptr<Draws const> draws_;
};

}  // namespace cure::uncertain
