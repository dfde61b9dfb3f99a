/** What a part of the guide says. In its words, [square brackets] hold words that stand on a screen just so, and
 *  `backticks` what is typed into a terminal or a script. */
export interface GuidePart {
  heading: string;
  text: readonly string[];
  /** What to do, in this order, after the text. */
  steps?: readonly string[];
}

/** One section of the guide: what a person who stands before these screens needs to know. */
export interface GuideSection {
  /** Its address below /guide. */
  slug: string;
  title: string;
  lead: string;
  /** The screens that it explains, as routes; the first one without an id is linked from it. */
  screens: readonly string[];
  /** Routes that forms are sent to and whose refusal shows one of these screens, where the path does not already say
   *  so. */
  sends?: readonly string[];
  parts: readonly GuidePart[];
  /** Sections that go on from here. */
  also?: readonly string[];
}

export interface GuideGroup {
  title: string;
  sections: readonly GuideSection[];
}
