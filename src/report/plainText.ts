/** Control characters, line separators and marks that turn the writing direction: terminals and browsers act on them. */
const UNSAFE = /[\u0000-\u001f\u007f-\u009f\u200e\u200f\u2028-\u202e\u2066-\u2069]/g

/** Text from outside on one line: white space is closed up, what would act on a screen is shown as U+FFFD. */
export function plainText(text: string): string {
  return text.replace(/[\t\n\r ]+/g, ' ').replace(UNSAFE, '\ufffd')
}
