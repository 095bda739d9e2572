#pragma once
/// Pages as JSON for other renderers: words as they are to be shown, nothing left to be rounded.

#include "cure/compiled.hpp"
#include "cure/io/answer_file.hpp"
#include "cure/page/page.hpp"

namespace cure::io {

namespace detail {

inline char const* name_of(page::Mark mark) {
  switch (mark) {
    case page::Mark::key: return "key";
    case page::Mark::bad: return "bad";
    case page::Mark::none: break;
  }
  return "";
}

}  // namespace detail

CURE_FUNCTION Json page_json(page::Page const& p);
#if CURE_DEFINES(ANSWERS)
CURE_FUNCTION Json page_json(page::Page const& p) {
  Json facts = Json::array(), rows = Json::array(), cautions = Json::array(), usual = Json::array();
  for (auto const& f : p.facts) facts.push_back({{"name", f.name}, {"value", f.value}});
  for (auto const& r : p.rows) {
    rows.push_back({{"name", r.name},
                    {"time", r.time},
                    {"likely", r.likely},
                    {"unlikely", r.unlikely},
                    {"why", r.why},
                    {"mark", detail::name_of(r.mark)}});
  }
  for (auto const& c : p.cautions) cautions.push_back({{"code", c.code}, {"text", c.text}});
  for (auto const& u : p.usual) usual.push_back({{"in_short", u.in_short}, {"whole", u.whole}});
  auto const& h = p.headings;
  return {{"title", p.title},
          {"status", detail::name_of(p.status)},
          {"headline", p.headline},
          {"facts", facts},
          {"headings",
           {{"names", h.names},
            {"times", h.times},
            {"likely", h.likely},
            {"why", h.why},
            {"cautions", h.cautions}}},
          {"ranged", p.ranged},
          {"rows", rows},
          {"reasons", reasons_json(p.reasons)},
          {"cautions", cautions},
          {"usual", usual},
          {"at_any_job", p.at_any_job},
          {"numerics", p.numerics},
          {"ranges", p.ranges},
          {"defaults", p.defaults},
          {"solver", p.solver}};
}
#endif

}  // namespace cure::io
