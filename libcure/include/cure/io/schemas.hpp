#pragma once
/// The documents of libcure, with their schemas and the reference page, by the names of
/// their files.

#include <string>
#include <utility>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/io/case_file.hpp"
#include "cure/io/filled_document.hpp"
#include "cure/io/fit_schema.hpp"
#include "cure/io/reference.hpp"
#include "cure/io/schema.hpp"
#include "cure/io/tables/advice_table.hpp"
#include "cure/io/tables/chart_result_table.hpp"
#include "cure/io/tables/chart_table.hpp"
#include "cure/io/tables/fit_result_table.hpp"
#include "cure/io/tables/fit_table.hpp"
#include "cure/io/tables/follow_table.hpp"
#include "cure/io/tables/record_table.hpp"
#include "cure/io/tables/site_table.hpp"
#include "cure/io/tables/study_table.hpp"
#include "cure/io/tables/verdict_table.hpp"

namespace cure::io {

/// A kind of document.
struct DocumentKind {
  char const* name;   ///< in the name of its schema's file
  char const* title;  ///< its format, where it has one
  ObjectShape const* shape;
};

#if CURE_INSIDE
inline constexpr DocumentKind document_kinds[] = {
    {"case", case_format[0], &case_table},
    {"resin", resin_format[0], &resin_table},
    {"resin-blend", blend_format[0], &blend_table},
    {"material", material_format[0], &material_table},
    {"ground", ground_format[0], &ground_material_table},
    {"quantity", "libcure quantity", &quantity_table},
    {"chart", "libcure/chart/1", &tables::chart_table},
    {"fit", "libcure/fit/1", &tables::fit_table},
    {"study", "libcure/study/1", &tables::study_table},
    {"site", "libcure/site/1", &tables::site_table},
    {"record", "libcure/record/1", &tables::record_table},
    {"verdict", "libcure/verdict/1", &tables::verdict_table},
    {"advice", "libcure/advice/1", &tables::advice_table},
    {"follow", "libcure/follow/1", &tables::follow_table},
    {"chart-result", "libcure/chart-result/1", &tables::chart_result_table},
    {"fit-result", "libcure/fit-result/1", &tables::fit_result_table}};
#endif

/// Name and text of the files that are made of the tables.
CURE_FUNCTION std::vector<std::pair<std::string, std::string>> described_documents();
#if CURE_DEFINES(SCHEMAS)
CURE_FUNCTION std::vector<std::pair<std::string, std::string>> described_documents() {
  std::vector<std::pair<std::string, std::string>> list;
  std::string page =
      "# Documents\n\nWhat the documents of libcure may hold. This page and the JSON Schemas "
      "beside it are made by `python -m libcure.schemas` from the tables that the readers read "
      "by. The unit of a number stands after its range, or at the end of its key.\n\n";
  for (auto const& kind : document_kinds) {
    auto schema = SchemaWriter().write(*kind.shape, kind.title);
    // Which constants a law has is the laws' to say.
    if (kind.shape == &tables::fit_table) schema["$defs"]["law"] = fit_law_schema();
    list.emplace_back(std::string(kind.name) + ".schema.json", schema.dump(2) + "\n");
    page += ReferenceWriter().write(*kind.shape, kind.title);
  }
  page.pop_back();
  list.emplace_back("README.md", std::move(page));
  return list;
}
#endif

/// A document, checked by the table of its kind, with what was left out filled in where the table
/// says what serves. @param kind such as "chart"; "ranges" reads what is uncertain in a chart
/// alone. @param file stands for it in messages
/// @throws InputError; the kind is not known
CURE_FUNCTION Json filled_document(std::string const& kind, Json const& document,
                                   std::string const& file);
#if CURE_DEFINES(SCHEMAS)
CURE_FUNCTION Json filled_document(std::string const& kind, Json const& document,
                                   std::string const& file) {
  if (kind == "ranges") return filled_document(tables::chart_ranges_table, document, file);
  for (auto const& known : document_kinds) {
    if (kind == known.name) return filled_document(*known.shape, document, file);
  }
  throw InputError("kind", "\"" + kind + "\"", "a kind of document that has a table", file);
}
#endif

}  // namespace cure::io
