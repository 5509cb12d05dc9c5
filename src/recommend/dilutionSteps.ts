import type { Dilution } from '../compare/dilution.js'
import { roundSignificant } from '../model/rounding.js'

/** Said before anybody makes up a standard. Common practice, no source, but for what safety data sheets say. */
export const DILUTION_CAUTIONS = [
  'Local codes, site procedures and licensed practice come first; this is advice.',
  'Formazin is made with hydrazine salts, which are poisonous and may cause cancer: work by its safety data sheet, with gloves and eye protection; never pipette by mouth; dispose of rests as the sheet says.',
  'Dilute a stabilised or polymer standard only where its certificate allows it: the arithmetic holds for suspensions whose turbidity goes with their concentration.',
] as const

/** No time is printed that no published text at hand could be checked for. */
export const DILUTION_HOLDING =
  'How long the dilution holds is not said here, for want of a published figure that could be checked: go by the method of your site and the certificate of the stock; where neither says, make it up afresh for each use.'

/** Steps of making it up, in their order. Common practice, no source. */
export function dilutionSteps({ stockNtu, waterNtu, takenMl, flaskMl }: Dilution): string[] {
  const taken = `${say(takenMl.value)} mL`
  const flask = `${say(flaskMl.value)} mL`
  return [
    'Bring stock, water and glassware to one temperature; note lot and expiry of the stock.',
    `Filter the dilution water (0.2 µm or finer is usual) and read it: the value holds for ${say(waterNtu.value)} NTU.`,
    `Turn the stock of ${say(stockNtu.value)} NTU over until nothing lies at the bottom; do not shake bubbles into it.`,
    `Rinse the ${flask} flask with the water and fill it half.`,
    `Take ${taken} of the stock with the pipette, let it run into the flask, and fill up to the mark with the water.`,
    'Close it, turn it over ten times or more, and let the bubbles rise; read it at once, for suspensions settle.',
    'Label it: value, standard uncertainty, lot of the stock, date and time, who made it, expiry by your method.',
  ]
}

function say(value: number): string {
  return String(roundSignificant(value, 5))
}
