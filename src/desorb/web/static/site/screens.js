// Which address shows which screen. ":" marks a part that is given to the screen. The first one is the fallback.

import { airScreen } from "./screens/air.js";
import { caseScreen } from "./screens/case.js";
import { casesScreen } from "./screens/cases.js";
import { dryingPartScreen, dryingScreen } from "./screens/drying.js";
import { gateScreen, gatesScreen } from "./screens/gates.js";
import { hazardScreen } from "./screens/hazards.js";
import { labelScreen } from "./screens/label.js";
import { methodScreen, methodsScreen } from "./screens/methods.js";
import { noteScreen, notInspectedScreen, scanScreen } from "./screens/notes.js";
import { photosScreen } from "./screens/photos.js";
import { planScreen } from "./screens/plan.js";
import { readinessScreen } from "./screens/readiness.js";
import { roundScreen } from "./screens/round.js";
import { spotScreen } from "./screens/spot.js";
import { unitsScreen } from "./screens/units.js";
import { writeScreen } from "./screens/write_down.js";
import { writtenScreen } from "./screens/written.js";

export const SCREENS = [
  ["cases", casesScreen],
  ["c/:case", caseScreen],
  ["c/:case/gates", gatesScreen],
  ["c/:case/gates/:gate/:zone", gateScreen],
  ["c/:case/hazard", hazardScreen],
  ["c/:case/instruments", readinessScreen],
  ["c/:case/round", roundScreen],
  ["c/:case/plan", planScreen],
  ["c/:case/air", airScreen],
  ["c/:case/units", unitsScreen],
  ["c/:case/methods", methodsScreen],
  ["c/:case/methods/:kind/:id", methodScreen],
  ["c/:case/drying", dryingScreen],
  ["c/:case/drying/:at", dryingPartScreen],
  ["c/:case/write/:kind", writeScreen],
  ["c/:case/photos", photosScreen],
  ["c/:case/note", noteScreen],
  ["c/:case/scan", scanScreen],
  ["c/:case/not-inspected", notInspectedScreen],
  ["c/:case/spot", spotScreen],
  ["c/:case/spot/:spot", spotScreen],
  ["c/:case/label/:spot", labelScreen],
  ["c/:case/written", writtenScreen],
];
