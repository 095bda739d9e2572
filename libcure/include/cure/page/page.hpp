#pragma once
/// The page of an answer: every word and number that a person reads, rounded to the conservative
/// side. How it looks is left to a renderer (text.hpp is one).

#include <string>
#include <vector>

#include "cure/decide/decision.hpp"
#include "cure/process/verdict.hpp"

namespace cure::page {

struct Fact {
  std::string name, value;
};

enum class Mark {
  none,
  key,  ///< the answer most asked for
  bad,  ///< what stops the job
};

/// One line of the table of times.
struct Row {
  std::string name, time;
  std::string why;  ///< the point, or the rule, that decides it
  Mark mark = Mark::none;
  std::string likely = {};  ///< from 5 to 95 % of the samples; empty without them
  bool unlikely = false;    ///< `likely` has something that must not be
};

/// What to mind at any job.
struct UsualCaution {
  std::string in_short, whole;
};

struct Headings {
  std::string names = "From mixing", times = "Time", likely = "9 samples in 10", why = "Decided by",
              cautions = "Cautions";
};

struct Page {
  std::string title;
  decide::Status status = decide::Status::stop;
  std::string headline;
  std::vector<Fact> facts;
  Headings headings;
  bool ranged = false;  ///< the rows have ranges
  std::vector<Row> rows;
  std::vector<decide::Reason> reasons;     ///< why not simply `ok`: the first cautions
  std::vector<process::Caution> cautions;  ///< what else to mind at this job
  std::vector<UsualCaution> usual;
  // One sentence each, empty where there is nothing to say.
  std::string at_any_job;  ///< the usual cautions in short
  std::string numerics;    ///< numerical error of each time
  std::string ranges;      ///< what the ranges are, or why there are none
  std::string defaults;    ///< what the document left out
  std::string solver;
};

}  // namespace cure::page
