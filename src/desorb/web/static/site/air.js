// Air from temperature and relative humidity, as core/saturation.py and core/air have it (ASHRAE Handbook 2017,
// Fundamentals, chapter 1, equations 6, 20 and 22; relative humidity over water, also below 0 degC).
// A test compares this file with the Python one.

const ZERO = 273.15;
const STANDARD_PRESSURE = 101325; // Pa, the standard atmosphere
const MASS_RATIO = 0.621945; // equation 20

// Saturation vapour pressure over water. [degC] -> [Pa]
export function saturation(celsius) {
  const T = celsius + ZERO;
  return Math.exp(-5.8002206e3 / T + 1.3914993 + T * (-4.8640239e-2 + T * (4.1764768e-5 + T * -1.4452093e-8)) + 6.5459673 * Math.log(T));
}

// -> {vapourPressure [Pa], humidityRatio [g/kg of dry air]} or {problem}
export function airOf(celsius, humidity, pressure = STANDARD_PRESSURE) {
  if (!(celsius >= -45 && celsius <= 60)) return { problem: `A temperature of ${celsius} °C is outside -45 to 60 °C. Read it again.` };
  if (!(humidity > 1 && humidity <= 100.5)) return { problem: `A relative humidity of ${humidity} % is outside 1 to 100.5 %. Read it again.` };
  if (!(pressure >= 50e3 && pressure <= 110e3)) return { problem: `An air pressure of ${pressure} Pa is outside 50 000 to 110 000 Pa.` };
  const vapourPressure = (Math.min(humidity, 100) / 100) * saturation(celsius);
  if (vapourPressure < 6.4 || vapourPressure > 20e3) return { problem: "The vapour pressure that follows is outside what air in buildings has. Read both again." };
  return { vapourPressure, humidityRatio: (1000 * MASS_RATIO * vapourPressure) / (pressure - vapourPressure) };
}

// One sentence about the air of a place beside the air outside, or "".
export function besideOutside(place, outside) {
  const excess = place.vapourPressure - outside.vapourPressure;
  const grams = place.humidityRatio - outside.humidityRatio;
  const size = `${Math.abs(excess).toFixed(0)} Pa and ${Math.abs(grams).toFixed(1)} g of water for each kg of dry air`;
  if (Math.abs(excess) < 20) return "This air holds about as much water as the air outside (the two lie within 20 Pa, a setting of ours).";
  return excess > 0 ? `This air holds more water than the air outside, by ${size}.` : `This air holds less water than the air outside, by ${size}.`;
}
