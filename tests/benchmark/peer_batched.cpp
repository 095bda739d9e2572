/// The wall by libcure's packed solver, many cases at once on one core.
///   peer_batched PROBLEM OUTPUT SECONDS TOLERANCE_T TOLERANCE_ALPHA CASE MODELS [CELLS [STAGE]]
/// The cases start up to 2 K warmer or colder than the problem says, so that no two lanes take the
/// same steps; the answer is of the case that starts as it says.

#include <algorithm>
#include <cstddef>
#include <exception>
#include <iostream>
#include <string>
#include <vector>

#include "cure/ensemble/instructions.hpp"
#include "cure/ensemble/stage_arrays.hpp"
#include "peer.h"
#include "stage_wall.hpp"

namespace {

using namespace cure::ensemble;

constexpr std::size_t cases = 128;

class Batch {
 public:
  Batch(Problem const& p, cure::process::Case const& c, cure::process::Tolerance tolerance)
      : p_(p),
        cells_(static_cast<std::size_t>(p.cells)),
        reacting_(static_cast<std::size_t>(p.reacting)),
        rate_(rate_constants(c, cure::process::release_needs(c), p.start[p.first])),
        workspace_(workspace_size(cells_, reacting_)) {
    auto const scheme = packed_scheme(c.resin);
    if (!scheme) throw cure::InputError("resin", c.resin.id, "one that the packed solver knows");
    shape_ = {.cells = cells_,
              .first_reacting = static_cast<std::size_t>(p.first),
              .reacting = reacting_,
              .law = scheme->law,
              .form = scheme->form,
              .diffusion = scheme->diffusion,
              .tolerance = tolerance};
  }

  /// Cases that start `offset` [K] off and end at `end` [s]; what they came to is in T and alpha.
  void solve(std::vector<double> const& offset, std::vector<double> const& end) {
    auto const count = offset.size();
    T.resize(count * cells_);
    alpha.resize(count * reacting_);
    jobs_.assign(count, {});
    for (std::size_t i = 0; i < count; ++i) {
      for (std::size_t k = 0; k < cells_; ++k) T[i * cells_ + k] = p_.start[k] + offset[i];
      std::copy_n(p_.start + cells_, reacting_,
                  alpha.begin() + static_cast<std::ptrdiff_t>(i * reacting_));
      auto& job = jobs_[i];
      job.C = p_.capacity;
      job.G = p_.conductance;
      job.S = p_.source;
      job.T = &T[i * cells_];
      job.alpha = &alpha[i * reacting_];
      job.stops = &end[i];
      job.stop_count = 1;
      job.rate = &rate_;
      job.loads = {{p_.inner[0], p_.inner[1]}, {p_.outer[0], p_.outer[1]}};
      job.event = [](void*, StepView const&) {};
    }
    solver(Instructions::best)(shape_, jobs_.data(), count, workspace_.data());
    for (auto const& job : jobs_) {
      if (job.status != LaneStatus::finished) throw cure::SolverError("a case failed", 0.0, "");
    }
  }

  [[nodiscard]] LaneJob const& job(std::size_t i) const { return jobs_[i]; }

  std::vector<double> T, alpha;

 private:
  Problem const& p_;
  std::size_t cells_, reacting_;
  RateConstants rate_;
  JobShape shape_;
  std::vector<double> workspace_;
  std::vector<LaneJob> jobs_;
};

}  // namespace

int main(int argc, char** argv) try {
  if (argc < 8 || argc > 10) {
    throw cure::InputError("usage", "",
                           "peer_batched PROBLEM OUTPUT SECONDS TOLERANCE_T TOLERANCE_ALPHA CASE "
                           "MODELS [CELLS [STAGE]]");
  }
  Problem p = peer_read(argv[1]);
  auto const stage = cure::benchmark::stage_wall(
      argv[6], argv[7], argc > 8 ? std::stoul(argv[8]) : 0, argc > 9 ? argv[9] : "held", 0.0);
  auto const width = peer_width(&p), samples = static_cast<std::size_t>(p.samples);
  if (!std::equal(stage.start.begin(), stage.start.end(), p.start, p.start + width)) {
    throw cure::InputError("PROBLEM", argv[1], "written for the same case, cells and stage");
  }
  Batch batch(p, stage.repair, {std::stod(argv[4]), std::stod(argv[5])});

  // The solver keeps no history: for the answers the case is run to each time anew.
  std::vector<double> states(width * samples);
  batch.solve(std::vector<double>(samples, 0.0), {p.times, p.times + samples});
  auto const cells = static_cast<std::size_t>(p.cells), reacting = width - cells;
  for (std::size_t i = 0; i < samples; ++i) {
    auto* const row = states.data() + i * width;
    std::copy_n(batch.T.data() + i * cells, cells, row);
    std::copy_n(batch.alpha.data() + i * reacting, reacting, row + cells);
  }
  auto const steps = static_cast<long>(batch.job(samples - 1).steps);
  auto const rejections = static_cast<long>(batch.job(samples - 1).rejections);

  std::vector<double> offset(cases), end(cases, p.times[samples - 1]);
  for (std::size_t i = 0; i < cases; ++i) {
    offset[i] = -2.0 + 4.0 * static_cast<double>(i) / static_cast<double>(cases - 1);
  }
  double const budget = std::stod(argv[3]);
  Stopwatch watch{0.0, 0.0, 0};
  while (peer_again(&watch, budget)) {
    double const begin = peer_clock();
    batch.solve(offset, end);
    peer_lap(&watch, peer_clock() - begin);
  }
  peer_answer(&p, argv[2], states.data(), &watch, steps, rejections, 4 * steps + 3 * rejections,
              static_cast<long>(cases));
  peer_free(&p);
  return 0;
} catch (std::exception const& error) {
  std::cerr << "peer_batched: " << error.what() << '\n';
  return 2;
}
