import type { Explanation } from '../core/explanation.js'
import { biasAsAsked, biasNow } from './bias.js'
import { asMarkup, type Markup, markup } from './markup.js'
import { adviceSection } from './page/adviceSection.js'
import { comparisonSection } from './page/comparisonSection.js'
import { criteriaSection } from './page/criteriaSection.js'
import { exclusionsSection } from './page/exclusionsSection.js'
import { numbersSection } from './page/numbersSection.js'
import { picturesSection } from './page/picturesSection.js'
import { reasonsSection } from './page/reasonsSection.js'
import { reproduceSection } from './page/reproduceSection.js'
import { PAGE_STYLE } from './page/style.js'
import {
  headline,
  liveRecommendation,
  sayBias,
  sayClock,
  sayOtherSubject,
  sayTarget,
  sayTime,
  sayTolerances,
  sayWhen,
  whereAndWhen,
} from './say.js'
import { ACTION_TEXT, DEFERENCE_TEXT } from './words.js'

/**
 * The evidence for one analyzer as one HTML file that needs nothing else: no script, no font, no address. The
 * sentence comes first, then what to do, the numbers, the pictures, the line
 * against grab samples, what was left out, why (not), and how to get the
 * same again. With nothing open it is the page that says why not. The same explanation gives the same bytes.
 */
export function renderEvidencePage(explanation: Explanation): string {
  const live = liveRecommendation(explanation)
  const reasons = reasonsSection(explanation)
  const subject = live === undefined ? explanation.analyzer : sayTarget(live.target)
  const matter = live === undefined ? 'why nothing is asked' : ACTION_TEXT[live.action]
  return markup`<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>${subject}: ${matter}, ${explanation.plantName}, ${sayWhen(explanation)}</title>
<style>${asMarkup(PAGE_STYLE)}</style>
</head>
<body>
<main>
<header>
<h1>${headline(explanation)}</h1>
${otherSubject(explanation)}
${sinceThen(explanation)}
<p class="meta">${whereAndWhen(explanation).join(' · ')}</p>
</header>
${adviceSection(explanation)}
${live === undefined ? reasons : undefined}
${numbersSection(explanation)}
${picturesSection(explanation)}
${comparisonSection(explanation)}
${criteriaSection(explanation)}
${exclusionsSection(explanation)}
${live === undefined ? undefined : reasons}
${reproduceSection(explanation)}
<footer><p>${sayClock(explanation)} ${DEFERENCE_TEXT}</p></footer>
</main>
</body>
</html>
`.markup
}

/** Where the sentence is about something else, the analyzer's own stands right below it. */
function otherSubject(explanation: Explanation): Markup | undefined {
  const other = sayOtherSubject(explanation)
  return other === undefined ? undefined : markup`<p><strong>${other}</strong> ${explanation.status.summary}</p>`
}

/** The sentence keeps the numbers of the request; where the bias has moved since, that stands right below it. */
function sinceThen(explanation: Explanation): Markup | undefined {
  const [asAsked, now] = [biasAsAsked(explanation), biasNow(explanation)]
  if (asAsked === undefined || now === undefined) return undefined
  return markup`<p><strong>Since then:</strong> the sentence has the numbers known ${sayTime(asAsked.known)}; now ${sayBias(now)}, ${sayTolerances(now.ofTolerance)} tolerances.</p>`
}
