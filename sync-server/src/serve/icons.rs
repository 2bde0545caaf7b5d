//! The little pictures beside words. None of them says anything that the words do not.

use maud::{Markup, PreEscaped, html};

macro_rules! icons {
    ($($name:literal)*) => {
        /// Every icon by its name in the set.
        const ICONS: &[(&str, &str)] = &[
            $(($name, include_str!(concat!("../../assets/icons/", $name, ".svg")))),*
        ];
    };
}

icons! {
    "arrow-left" "arrow-right" "building-2" "calendar" "camera"
    "check" "chevron-down" "chevron-left" "chevron-right" "circle"
    "circle-check" "circle-dashed" "circle-dot" "circle-question-mark" "circle-slash"
    "clipboard-check" "clipboard-list" "clock" "cloud-hail" "coins"
    "compass" "diamond" "download" "ellipsis" "eye-off"
    "file-text" "filter" "flag" "footprints" "hard-drive"
    "hard-hat" "history" "house" "image" "info"
    "key-round" "layers" "link" "list" "lock"
    "log-out" "mail" "map-pin" "maximize" "menu"
    "message-circle-question-mark" "message-square" "package" "pencil" "plus"
    "printer" "qr-code" "radio" "refresh-cw" "rotate-ccw"
    "ruler" "scale" "scroll-text" "search" "settings"
    "shield-check" "smartphone" "split" "square" "sun"
    "triangle" "triangle-alert" "undo-2" "upload" "user"
    "users" "wind" "x" "zoom-in"
}

/// An icon of the set, of the height of the text around it. An unknown name shows nothing.
pub(super) fn icon(name: &str) -> Markup {
    let found = ICONS.iter().find(|(known, _)| *known == name);
    debug_assert!(found.is_some(), "no icon is named {name}");
    match found.and_then(|(_, svg)| svg.strip_prefix("<svg ")) {
        Some(rest) => PreEscaped(format!(
            "<svg class=\"icon\" aria-hidden=\"true\" focusable=\"false\" {rest}"
        )),
        None => html! {},
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_icon_is_one_drawing_without_script() {
        for (name, svg) in ICONS {
            let drawn = icon(name).into_string();
            assert!(
                drawn.starts_with("<svg class=") && drawn.ends_with("</svg>"),
                "{name}"
            );
            assert!(!svg.contains("script") && !svg.contains("style="), "{name}");
        }
    }
}
