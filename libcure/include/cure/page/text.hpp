#pragma once
/// A page as text for a terminal: in a frame the title, what it is about and the decision, then the
/// times, then the cautions; wrapped at a width.

#include <algorithm>
#include <array>
#include <cstddef>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/error.hpp"
#include "cure/page/page.hpp"
#include "cure/page/wrapping.hpp"

namespace cure::page {

/// What a terminal can show.
struct Terminal {
  std::size_t width = 100;  ///< columns, 60 to 1000
  bool colours = false;     ///< and bold letters, by ECMA-48 select graphic rendition
  bool ascii = false;       ///< no letters of the library's own beyond ASCII
};

/// The letters beyond ASCII that pages have, spelled out; what else a document brought stays.
CURE_FUNCTION std::string in_ascii(std::string_view words);
#if CURE_DEFINES(DECIDE)
CURE_FUNCTION std::string in_ascii(std::string_view words) {
  using Spelling = std::pair<std::string_view, std::string_view>;
  static constexpr std::array<Spelling, 11> spellings{{{"°", ""},
                                                       {"α", "alpha"},
                                                       {"≥", ">="},
                                                       {"–", "-"},
                                                       {"−", "-"},
                                                       {"…", "..."},
                                                       {"×", "x"},
                                                       {"÷", "/"},
                                                       {"±", "+-"},
                                                       {"²", "2"},
                                                       {"³", "3"}}};
  std::string out;
  while (!words.empty()) {
    auto const found = std::find_if(spellings.begin(), spellings.end(), [&](Spelling const& s) {
      return words.substr(0, s.first.size()) == s.first;
    });
    bool const spelled = found != spellings.end();
    out += spelled ? found->second : words.substr(0, 1);
    words.remove_prefix(spelled ? found->first.size() : 1);
  }
  return out;
}
#endif

#if CURE_INSIDE
namespace detail {

/// Parameters of select graphic rendition (ECMA-48, 8.3.117).
using Ink = std::string;
inline constexpr char const *plain = "", *dim = "2", *bold = "1";

/// Green, yellow or red.
inline Ink colour_of(decide::Status s) {
  return s == decide::Status::ok ? "32" : s == decide::Status::wait ? "33" : "31";
}
inline Ink bold_in(decide::Status s) { return "1;" + colour_of(s); }

class TextPage {
 public:
  TextPage(Page const& p, Terminal const& t) : page_(p), terminal_(t) {}

  std::string run() {
    head();
    table();
    if (!page_.numerics.empty()) hanging(1, "", 0, page_.numerics);
    out_ += '\n';
    hanging(1, "", 0, page_.headings.cautions, bold);
    std::size_t number = 0;
    auto const caution = [&](std::string const& words, Ink const& ink) {
      auto const label = std::to_string(++number) + ".";
      hanging(label.size() < 3 ? 3 - label.size() : 0, label, label.size() + 1, words, ink, ink);
    };
    for (auto const& reason : page_.reasons) caution(reason.text, bold_in(reason.status));
    for (auto const& other : page_.cautions) caution(other.text, plain);
    hanging(4, "", 0, page_.at_any_job);
    out_ += '\n';
    for (auto const* line : {&page_.ranges, &page_.defaults, &page_.solver}) {
      if (!line->empty()) hanging(1, "", 0, *line, dim);
    }
    return std::move(out_);
  }

 private:
  std::string shown(std::string const& words) const {
    auto line = one_line(words);
    return terminal_.ascii ? in_ascii(line) : line;
  }

  std::string inked(std::string const& words, Ink const& ink) const {
    if (!terminal_.colours || ink.empty() || words.empty()) return words;
    return "\x1b[" + ink + "m" + words + "\x1b[0m";
  }

  /// Text beside a label, `indent` columns in; `label_width` of them and a gap for the label.
  void hanging(std::size_t indent, std::string const& given, std::size_t label_width,
               std::string const& words, Ink const& ink = plain, Ink const& label_ink = plain) {
    auto const label = shown(given);
    std::size_t const hang = indent + label_width, wide = columns(label);
    auto const lines = wrapped(shown(words), terminal_.width - hang);
    for (std::size_t i = 0; i < lines.size(); ++i) {
      if (i == 0) {
        out_.append(indent, ' ') += inked(label, label_ink);
        if (wide < label_width) out_.append(label_width - wide, ' ');
      } else {
        out_.append(hang, ' ');
      }
      out_ += inked(lines[i], ink) + '\n';
    }
  }

  /// Title, facts and decision in a frame.
  void head() {
    Frame const frame =
        terminal_.ascii ? Frame{"+", "+", "+", "+", "-", "|"} : Frame{"╭", "╮", "╰", "╯", "─", "│"};
    auto const edge = colour_of(page_.status);
    std::size_t const inside = terminal_.width - 4;
    auto const across = [&](std::size_t count) {
      std::string line;
      for (std::size_t i = 0; i < count; ++i) line += frame.across;
      return line;
    };
    auto const within = [&](std::string const& label, std::size_t hang, std::string const& words,
                            Ink const& ink) {
      auto const lines = wrapped(words, inside - hang);
      for (std::size_t i = 0; i < lines.size(); ++i) {
        auto const before = i == 0 ? label : std::string();
        out_ += inked(frame.side, edge) + ' ' + inked(before, dim);
        out_.append(hang - columns(before), ' ') += inked(lines[i], ink);
        out_.append(inside - hang - columns(lines[i]), ' ') += ' ' + inked(frame.side, edge) + '\n';
      }
    };
    auto const title = wrapped(shown(page_.title), inside - 2);
    out_ += inked(frame.top_left + frame.across, edge) + ' ' + inked(title.front(), bold) + ' ' +
            inked(across(inside - 1 - columns(title.front())) + frame.top_right, edge) + '\n';
    for (std::size_t i = 1; i < title.size(); ++i) within("", 1, title[i], bold);
    std::size_t names = 0;
    for (auto const& fact : page_.facts) names = std::max(names, columns(shown(fact.name)));
    for (auto const& f : page_.facts) within(shown(f.name), names + 2, shown(f.value), plain);
    within("", 0, "", plain);
    within("", 0, shown(page_.headline), bold_in(page_.status));
    out_ += inked(frame.bottom_left + across(inside + 2) + frame.bottom_right, edge) + '\n';
  }

  struct Frame {
    std::string top_left, top_right, bottom_left, bottom_right, across, side;
  };
  struct Cell {
    std::vector<std::string> lines;
    Ink ink = plain, second = plain;  ///< of its first line, and of those below
  };
  using Cells = std::vector<Cell>;  ///< by column

  /// Where the ranges have no room beside the times they stand below them.
  void table() {
    bool const beside = page_.ranged && terminal_.width >= narrow, below = page_.ranged && !beside;
    auto const& h = page_.headings;
    std::vector<Cells> rows;
    Cells top{{{h.names}, dim}, {{below ? h.times + ", " + h.likely : h.times}, dim}};
    if (beside) top.push_back({{h.likely}, dim});
    top.push_back({{h.why}, dim, dim});
    rows.push_back(std::move(top));
    for (auto const& row : page_.rows) {
      auto const ink = row.mark == Mark::key   ? bold_in(page_.status)
                       : row.mark == Mark::bad ? bold_in(decide::Status::stop)
                                               : Ink(plain);
      auto const likely = row.unlikely ? bold_in(decide::Status::stop) : Ink(plain);
      Cells cells{{{shown(row.name)}, ink}, {{shown(row.time)}, ink, likely}};
      if (beside) cells.push_back({{shown(row.likely)}, likely});
      if (below && !row.likely.empty()) cells.back().lines.push_back(shown(row.likely));
      cells.push_back({{shown(row.why)}});
      rows.push_back(std::move(cells));
    }
    auto const count = rows.front().size();
    std::vector<std::size_t> wide(count, 0);
    std::size_t taken = 1;
    for (std::size_t j = 0; j + 1 < count; ++j) {
      for (auto const& cells : rows) {
        for (auto const& line : cells[j].lines) wide[j] = std::max(wide[j], columns(line));
      }
      taken += wide[j] + gap;
    }
    wide.back() = terminal_.width > taken + least_why ? terminal_.width - taken : least_why;
    for (auto& cells : rows) line_up(cells, wide);
  }

  void line_up(Cells& cells, std::vector<std::size_t> const& wide) {
    cells.back().lines = wrapped(cells.back().lines.front(), wide.back());
    std::size_t height = 0;
    for (auto const& cell : cells) height = std::max(height, cell.lines.size());
    for (std::size_t i = 0; i < height; ++i) {
      std::size_t at = 1, column = 0;
      for (std::size_t j = 0; j < cells.size(); ++j) {
        auto const& lines = cells[j].lines;
        if (i < lines.size() && !lines[i].empty()) {
          out_.append(at - column, ' ') += inked(lines[i], i == 0 ? cells[j].ink : cells[j].second);
          column = at + columns(lines[i]);
        }
        at += wide[j] + gap;
      }
      out_ += '\n';
    }
  }

  static constexpr std::size_t narrow = 76, gap = 2, least_why = 12;
  Page const& page_;
  Terminal const& terminal_;
  std::string out_;
};

}  // namespace detail
#endif

/// @throws InputError for a width out of range
CURE_FUNCTION std::string text(Page const& p, Terminal const& terminal = {});
#if CURE_DEFINES(DECIDE)
CURE_FUNCTION std::string text(Page const& p, Terminal const& terminal) {
  if (terminal.width < 60 || terminal.width > 1000) {
    throw InputError("width", std::to_string(terminal.width), "60 to 1000 columns");
  }
  return detail::TextPage(p, terminal).run();
}
#endif

}  // namespace cure::page
