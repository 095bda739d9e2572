#pragma once
/// The documents that the core reads, with their schemas and the reference page, by the names of
/// their files.

#include <string>
#include <utility>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/io/case_file.hpp"
#include "cure/io/reference.hpp"
#include "cure/io/schema.hpp"

namespace cure::io {

/// A kind of document that the core reads.
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
    {"quantity", "libcure quantity", &quantity_table}};
#endif

/// Name and text of the files that are made of the tables.
CURE_FUNCTION std::vector<std::pair<std::string, std::string>> described_documents();
#if CURE_DEFINES(CASES)
CURE_FUNCTION std::vector<std::pair<std::string, std::string>> described_documents() {
  std::vector<std::pair<std::string, std::string>> list;
  std::string page =
      "# Documents\n\nWhat the documents that libcure reads may hold. This page and the JSON "
      "Schemas "
      "beside it are made by `python -m libcure.schemas` from the tables that the reader itself "
      "reads "
      "by. The unit of a number stands after its range.\n\n";
  for (auto const& kind : document_kinds) {
    list.emplace_back(std::string(kind.name) + ".schema.json",
                      SchemaWriter().write(*kind.shape, kind.title).dump(2) + "\n");
    page += ReferenceWriter().write(*kind.shape, kind.title);
  }
  page.pop_back();
  list.emplace_back("README.md", std::move(page));
  return list;
}
#endif

}  // namespace cure::io
