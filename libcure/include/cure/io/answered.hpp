#pragma once
/// From a case document to its answer in one call, in plain numbers and text: for a program that
/// hands an answer on and needs no type of the library. Against the compiled library it costs
/// next to nothing to compile; load_case, decide::answer and page::page_of give the same in full.

#include <optional>
#include <string>
#include <vector>

#include "cure/compiled.hpp"

#if CURE_DEFINES(ANSWERS)
#include "cure/io/answer_file.hpp"
#include "cure/io/case_file.hpp"
#include "cure/page/page_of.hpp"
#include "cure/page/text.hpp"
#endif

namespace cure::io {

struct Answered {
  std::string status;                   ///< "ok", "wait" or "stop"
  std::optional<double> release_time;   ///< the one time to act on, from mixing [s]
  std::optional<double> working_until;  ///< how long the resin can be worked, from mixing [s]
  /// By when a liner that waits beside the pipe must be in place, from mixing [s]; as in Decision.
  std::optional<double> latest_in_place;
  std::string page;  ///< what a crew reads: times, reasons, cautions
  std::string json;  ///< "libcure/verdict/1", with times in minutes
};

/// @param case_file path of a case document
/// @param models folders that ids of resins, materials and grounds are looked up in
/// @throws InputError, SolverError, Stopped
CURE_FUNCTION Answered answered(std::string const& case_file,
                                std::vector<std::string> const& models);
#if CURE_DEFINES(ANSWERS)
CURE_FUNCTION Answered answered(std::string const& case_file,
                                std::vector<std::string> const& models) {
  auto const job = load_case(case_file, {{models.begin(), models.end()}});
  auto const answer = decide::answer(job);
  auto const& decision = answer.decision;
  return {detail::name_of(decision.status),
          decision.release_time,
          decision.working_until,
          decision.latest_in_place,
          page::text(page::page_of(job, answer)),
          answer_json(job, answer).dump()};
}
#endif

}  // namespace cure::io
