#pragma once
/// A page as plain text for a terminal: UTF-8, without colours, wrapped at a width.

#include <algorithm>
#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/error.hpp"
#include "cure/page/page.hpp"
#include "cure/page/wrapping.hpp"

namespace cure::page {

#if CURE_INSIDE
namespace detail {

class TextPage {
 public:
  TextPage(Page const& p, std::size_t width) : page_(p), width_(width) {}

  std::string run() {
    paragraph(page_.title);
    out_ += '\n';
    std::size_t names = 0;
    for (auto const& fact : page_.facts) names = std::max(names, columns(one_line(fact.name)));
    for (auto const& fact : page_.facts) hanging(2, fact.name, names + 2, fact.value);
    out_ += '\n';
    paragraph(page_.headline);
    out_ += '\n';
    table();
    if (!page_.numerics.empty()) paragraph("\n", page_.numerics);
    out_ += '\n';
    paragraph(page_.headings.cautions);
    std::size_t number = 0;
    auto const caution = [&](std::string const& words) {
      auto const label = std::to_string(++number) + ".";
      hanging(label.size() < 3 ? 3 - label.size() : 0, label, label.size() + 1, words);
    };
    for (auto const& reason : page_.reasons) caution(reason.text);
    for (auto const& other : page_.cautions) caution(other.text);
    hanging(4, "", 0, page_.at_any_job);
    out_ += '\n';
    for (auto const* line : {&page_.ranges, &page_.defaults, &page_.solver}) {
      if (!line->empty()) paragraph(*line);
    }
    return std::move(out_);
  }

 private:
  void paragraph(std::string const& words) {
    for (auto const& line : wrapped(one_line(words), width_)) out_ += line + '\n';
  }
  void paragraph(char const* before, std::string const& words) {
    out_ += before;
    paragraph(words);
  }

  /// Text beside a label, `indent` columns in; `label_width` of them and a gap for the label.
  void hanging(std::size_t indent, std::string const& given, std::size_t label_width,
               std::string const& words) {
    auto label = one_line(given);
    std::size_t const hang = indent + label_width;
    label.append(label_width - std::min(label_width, columns(label)), ' ');
    auto const lines = wrapped(one_line(words), width_ - hang);
    for (std::size_t i = 0; i < lines.size(); ++i) {
      out_ +=
          (i == 0 ? std::string(indent, ' ') + label : std::string(hang, ' ')) + lines[i] + '\n';
    }
  }

  using Cells = std::vector<std::vector<std::string>>;  ///< by column, a column's lines

  /// Where the ranges have no room beside the times they stand below them.
  void table() {
    bool const beside = page_.ranged && width_ >= narrow, below = page_.ranged && !beside;
    auto const& h = page_.headings;
    std::vector<Cells> rows;
    Cells top{{h.names}, {below ? h.times + ", " + h.likely : h.times}};
    if (beside) top.push_back({h.likely});
    top.push_back({h.why});
    rows.push_back(std::move(top));
    for (auto const& row : page_.rows) {
      Cells cells{{one_line(row.name)}, {one_line(row.time)}};
      if (beside) cells.push_back({one_line(row.likely)});
      if (below && !row.likely.empty()) cells.back().push_back(one_line(row.likely));
      cells.push_back({one_line(row.why)});
      rows.push_back(std::move(cells));
    }
    auto const count = rows.front().size();
    std::vector<std::size_t> wide(count, 0);
    for (auto const& cells : rows) {
      for (std::size_t j = 0; j + 1 < count; ++j) {
        for (auto const& line : cells[j]) wide[j] = std::max(wide[j], columns(line));
      }
    }
    std::size_t taken = 0;
    for (std::size_t j = 0; j + 1 < count; ++j) taken += wide[j] + gap;
    wide.back() = width_ > taken + least_why ? width_ - taken : least_why;
    for (auto& cells : rows) line_up(cells, wide);
  }

  void line_up(Cells& cells, std::vector<std::size_t> const& wide) {
    cells.back() = wrapped(cells.back().front(), wide.back());
    std::size_t height = 0;
    for (auto const& cell : cells) height = std::max(height, cell.size());
    for (std::size_t i = 0; i < height; ++i) {
      std::string line;
      std::size_t at = 0;
      for (std::size_t j = 0; j < cells.size(); ++j) {
        if (i < cells[j].size()) {
          line.append(at - std::min(at, columns(line)), ' ');
          line += cells[j][i];
        }
        at += wide[j] + gap;
      }
      line.resize(line.find_last_not_of(' ') + 1);
      out_ += line + '\n';
    }
  }

  static constexpr std::size_t narrow = 76, gap = 2, least_why = 12;
  Page const& page_;
  std::size_t width_;
  std::string out_;
};

}  // namespace detail
#endif

/// @param width in columns, 60 to 1000
/// @throws InputError
CURE_FUNCTION std::string text(Page const& p, std::size_t width = 100);
#if CURE_DEFINES(DECIDE)
CURE_FUNCTION std::string text(Page const& p, std::size_t width) {
  if (width < 60 || width > 1000) {
    throw InputError("width", std::to_string(width), "60 to 1000 columns");
  }
  return detail::TextPage(p, width).run();
}
#endif

}  // namespace cure::page
