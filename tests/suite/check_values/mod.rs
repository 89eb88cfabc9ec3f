//! Values from outside the project.
