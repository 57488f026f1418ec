// Turns a graph into the form that libvosk composes with a grammar at run time: an olabel_lookahead FST. Writes the pairs
// (old word number, new word number) as well, because looking ahead needs words numbered in the order of their arcs.
//
//     lookahead IN.fst OUT.fst PAIRS
//
// Needs Debian's libfst-dev.
#include <fst/fstlib.h>
#include <fst/matcher-fst.h>

#include <iostream>
#include <memory>
#include <string>

DECLARE_string(save_relabel_opairs);

int main(int argc, char **argv) {
  if (argc != 4) {
    std::cerr << "usage: lookahead IN.fst OUT.fst PAIRS\n";
    return 2;
  }
  FLAGS_save_relabel_opairs = argv[3];
  std::unique_ptr<fst::StdVectorFst> graph(fst::StdVectorFst::Read(argv[1]));
  if (!graph) return 1;
  fst::ArcSort(graph.get(), fst::OLabelCompare<fst::StdArc>());
  return fst::StdOLabelLookAheadFst(*graph).Write(std::string(argv[2])) ? 0 : 1;
}
